-- base.place_stays: one row per service point, in order, with the number of its stays.
-- Reads clean.points, lives.stays.
create or replace table base.place_stays as
with counted as (
    select point_no, count(*) as n_stays from lives.stays group by point_no
)

select p.point_no, p.service_point, p.retired_on, coalesce(c.n_stays, 0)::uinteger as n_stays
from clean.points as p
left join counted as c using (point_no)
order by p.point_no
