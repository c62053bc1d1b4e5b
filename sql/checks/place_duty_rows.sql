-- Faulty rows: a duty whose place is not in the register, has no hose in service, or stands twice.
select d.service_point, count(*) as n
from results.place_duty as d
left join results.service_points as p using (service_point)
group by d.service_point
having count(*) > 1 or count(p.hose_id) = 0
order by d.service_point
