-- results.lives: one row per life, with the log rows it came from. A view: publishing reads it once and puts its rows in order.
-- Reads fit.counted_lives, fit.inferred_mechanisms, clean.service_points, raw.loads.
create or replace view results.lives as
with files as (
    select load_id, min(source_file) as source_file from raw.loads group by load_id
)

select
    l.life_id, l.hose_id, l.service_point, l.application_class, l.construction, l.part_number, l.mechanism,
    case when l.life_id in (select life_id from fit.inferred_mechanisms) then 'inferred from its teardown'
        when l.mechanism <> 'unknown' then 'concluded' end as mechanism_origin, l.kind,
    l.removal_reason, l.is_unknown_reason, l.entry_age_days, l.age_low_days, l.age_high_days, l.installed_on, l.removed_on,
    l.is_open, l.is_fitted, l.exclusion, l.run_hours_low, l.run_hours_high, l.run_hours_entry, l.run_hours_origin,
    l.cycles_low, l.cycles_high, l.cycles_entry,
    l.last_seen_good_on, l.part_cost, l.labour_cost, l.other_cost, l.downtime_h,
    -- As fit.costs counts it: lost production included where the price of an hour is known.
    case when coalesce(l.part_cost, l.labour_cost, l.other_cost) is not null or l.downtime_h is not null
        then (coalesce(l.part_cost, 0) + coalesce(l.labour_cost, 0) + coalesce(l.other_cost, 0)
            + coalesce(l.downtime_h * p.downtime_cost_per_hour, 0))::double end as cost,
    i.source_file as installation_file, l.installation_row, r.source_file as removal_file, l.removal_row
from fit.counted_lives as l
left join clean.service_points as p on p.service_point = l.service_point
left join files as i on i.load_id = l.installation_load_id
left join files as r on r.load_id = l.removal_load_id
