-- fit.costs: one row per failure or planned change with a recorded cost, lost production included where hours and their price are known.
-- Reads lives.stays, lives.orphans, fit.places.
create or replace table fit.costs as
with removals as (
    select service_point, removed_on, hose_id, removal_reason, part_cost, labour_cost, other_cost, downtime_h from lives.stays
    union all
    select service_point, removed_on, hose_id, removal_reason, part_cost, labour_cost, other_cost, downtime_h from lives.orphans
)

select
    p.place, (coalesce(f.part_cost, 0) + coalesce(f.labour_cost, 0) + coalesce(f.other_cost, 0)
        + coalesce(f.downtime_h * p.downtime_cost_per_hour, 0))::double as cost,
    f.removal_reason = 'planned' as is_planned, f.removed_on
from removals as f
join fit.places as p using (service_point)
where f.removal_reason in ('failed', 'found_failed', 'removed_degraded', 'planned')
    and (f.part_cost is not null or f.labour_cost is not null or f.other_cost is not null or f.downtime_h is not null)
order by p.place, f.removed_on, f.hose_id, cost, is_planned
