-- Faulty rows: planned within a year and not in the due list, or the other way round.
select coalesce(a.service_point, d.service_point) as service_point
from (select service_point from results.replacement_ages where planned_on <= $as_of::date + 365) as a
full join results.due as d using (service_point)
where a.service_point is null or d.service_point is null
order by service_point
