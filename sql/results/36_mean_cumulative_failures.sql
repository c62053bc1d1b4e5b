-- results.mean_cumulative_failures: one row per class and age of a place: mean failures of a place so far.
-- Reads mean_cumulative_failures_frame.
create or replace table results.mean_cumulative_failures as
select application_class, age_days, n_places::integer as n_places, mean, lower, upper
from mean_cumulative_failures_frame
order by application_class, age_days
