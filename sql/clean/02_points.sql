-- clean.points: one row per service point of the register, with a number that later steps join
-- by. Reads clean.service_points.
create or replace table clean.points as
select row_number() over (order by service_point)::integer as point_no, service_point
from clean.service_points
order by service_point
