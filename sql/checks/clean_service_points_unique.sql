-- A service point stands once in the register. Returns those that stand there twice or more.
select service_point, count(*) as n_rows
from clean.service_points
group by service_point
having count(*) > 1
order by service_point
