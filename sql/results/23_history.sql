-- results.history: one row per month and scope: hoses out, hoses failed, and what the removals cost.
-- Reads lives.stays, lives.lives, lives.orphans, clean.service_points.
create or replace table results.history as
with removals as (
    select service_point, removed_on, removal_reason, part_cost, labour_cost, other_cost, downtime_h from lives.stays where removed_on is not null
    union all
    select service_point, removed_on, removal_reason, part_cost, labour_cost, other_cost, downtime_h from lives.orphans
),

priced as (
    select
        date_trunc('month', r.removed_on)::date as month, p.site, p.line, p.application_class, r.removal_reason,
        (coalesce(r.part_cost, 0) + coalesce(r.labour_cost, 0) + coalesce(r.other_cost, 0)
            + coalesce(r.downtime_h::decimal(20, 2) * p.downtime_cost_per_hour, 0))::decimal(38, 2) as cost
    from removals as r
    join clean.service_points as p using (service_point)
),

scoped as (
    select month, 'fleet' as scope, 'all' as scope_name, removal_reason, cost from priced
    union all
    select month, 'site', site, removal_reason, cost from priced where site is not null
    union all
    select month, 'line', concat_ws(', ', site, line), removal_reason, cost from priced where line is not null
    union all
    select month, 'application_class', application_class, removal_reason, cost from priced
)

select
    month, scope, scope_name, count(*) as n_removed,
    count(*) filter (where removal_reason in ('failed', 'found_failed', 'removed_degraded')) as n_failed,
    count(*) filter (where removal_reason in ('planned', 'opportunity', 'upgraded')) as n_planned, sum(cost)::double as cost,
    coalesce(sum(cost) filter (where removal_reason in ('failed', 'found_failed', 'removed_degraded')), 0)::double as cost_of_failures
from scoped
group by month, scope, scope_name
order by scope, scope_name, month
