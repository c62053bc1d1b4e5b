-- clean.points: one row per service point of the register, with a number that later steps join by,
-- and what they need of the place. Reads clean.service_points.
create or replace table clean.points as
select
    row_number() over (order by service_point)::integer as point_no, service_point, application_class,
    records_from, retired_on, run_hours_per_year / 365.25 as hours_per_day
from clean.service_points
order by service_point
