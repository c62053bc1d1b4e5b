-- Faulty rows: service points that the ranking lacks or holds more than once.
select p.service_point, count(r.rank) as n_ranks
from results.service_points as p
left join results.ranking as r using (service_point)
group by p.service_point
having count(r.rank) <> 1
order by p.service_point
