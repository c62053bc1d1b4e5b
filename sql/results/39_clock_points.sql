-- results.clock_points: one row per failure age of a fit by a clock of the meters, at its median-rank plotting position.
-- Reads clock_points_frame.
create or replace table results.clock_points as
select clock, application_class, construction, mechanism, age, failure_probability, kind
from clock_points_frame
order by clock, application_class, construction, mechanism, age, failure_probability, kind
