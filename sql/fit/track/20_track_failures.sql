-- fit.track_failures: one row per failure: its place, its day, its recorded cost (NULL without one). Removals without a
-- known installation count too: they happened. Reads lives.stays, lives.orphans, clean.service_points.
create or replace table fit.track_failures as
with ended as (
    select
        service_point, removed_on, hose_id, removal_reason, kind <> 'suspended' as is_failure,
        part_cost, labour_cost, other_cost, downtime_h
    from lives.stays
    where removed_on is not null
    union all
    select
        o.service_point, o.removed_on, o.hose_id, o.removal_reason,
        o.removal_reason in ('failed', 'found_failed') or (o.removal_reason = 'removed_degraded'
            and not list_contains($degraded_is_suspension::varchar[], p.application_class)) as is_failure,
        o.part_cost, o.labour_cost, o.other_cost, o.downtime_h
    from lives.orphans as o
    join clean.service_points as p using (service_point)
)

select
    e.service_point, e.removed_on, case
        when coalesce(e.part_cost, e.labour_cost, e.other_cost) is not null or e.downtime_h is not null
            then (coalesce(e.part_cost, 0) + coalesce(e.labour_cost, 0) + coalesce(e.other_cost, 0)
                + coalesce(e.downtime_h::decimal(20, 2) * p.downtime_cost_per_hour, 0))::decimal(38, 2)
    end as cost
from ended as e
join clean.service_points as p using (service_point)
where e.is_failure
order by e.service_point, e.removed_on, e.hose_id, cost
