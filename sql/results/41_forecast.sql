-- results.forecast: one row per coming month and scope: failures with a predictive range, and their cost.
-- Reads forecast_frame.
create or replace table results.forecast as
select month::date as month, scope, scope_name, mean, lower, upper, cost_mean, cost_lower, cost_upper
from forecast_frame
order by scope, scope_name, month
