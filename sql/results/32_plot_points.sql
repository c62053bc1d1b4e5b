-- results.plot_points: one row per failure age of a fit, at its median-rank plotting position.
-- Reads plot_points_frame.
create or replace table results.plot_points as
select application_class, construction, mechanism, age_days, failure_probability, kind
from plot_points_frame
order by application_class, construction, mechanism, age_days, failure_probability, kind
