-- results.group_trends: one row per line or machine of three places or more: do its failures come faster as its places age?
-- Reads group_trends_frame.
create or replace table results.group_trends as
select
    scope, site, scope_name, n_places::integer as n_places, n_failures::integer as n_failures, place_years, shape, shape_lower, shape_upper,
    laplace_statistic, laplace_p_value, total_log_statistic, total_log_p_value
from group_trends_frame
order by scope, site, scope_name
