-- results.planned_work: one row per coming month and scope: planned changes with a predictive range, and their cost.
-- A hose that fails before its day is not counted. Reads planned_work_frame.
create or replace table results.planned_work as
select month::date as month, scope, scope_name, mean, lower, upper, cost_mean, cost_lower, cost_upper
from planned_work_frame
order by scope, scope_name, month
