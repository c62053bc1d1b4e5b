-- results.group_mean_failures: one row per line or machine and age of a place: mean failures of a place of it so far.
-- Reads group_mean_failures_frame.
create or replace table results.group_mean_failures as
select scope, site, scope_name, age_days, n_places::integer as n_places, mean, lower, upper
from group_mean_failures_frame
order by scope, site, scope_name, age_days
