-- results.plan_effect: one row per scope and number of coming months: failures forecast without the plan, what its changes on top
-- of present habit prevent, and what both cost. Reads plan_effect_frame, results.forecast.
create or replace table results.plan_effect as
with ahead as (
    select
        month, scope, scope_name, (sum(mean::decimal(28, 12)) over whole)::double as failures,
        (sum(cost_mean::decimal(38, 8)) over whole)::double as cost
    from results.forecast
    window whole as (partition by scope, scope_name order by month)
)

select
    p.scope, p.scope_name, p.n_months::integer as n_months, p.month::date as month, p.n_planned::integer as n_planned,
    a.failures as failures_without_plan, greatest(a.failures - p.prevented, 0) as failures_with_plan,
    p.prevented, p.prevented_lower, p.prevented_upper, a.cost as cost_without_plan,
    p.cost_prevented, p.cost_prevented_lower, p.cost_prevented_upper, p.added_changes, p.added_cost
from plan_effect_frame as p
join ahead as a on a.scope = p.scope and a.scope_name = p.scope_name and a.month = p.month::date
order by p.scope, p.scope_name, p.n_months
