-- results.lives: one row per life, with the log rows it came from.
-- Reads fit.counted_lives, fit.inferred_mechanisms, lives.stays, clean.service_points, raw.loads.
create or replace table results.lives as
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
    s.last_seen_good_on, s.part_cost, s.labour_cost, s.other_cost, s.downtime_h,
    -- As fit.costs counts it: lost production included where the price of an hour is known.
    case when coalesce(s.part_cost, s.labour_cost, s.other_cost) is not null or s.downtime_h is not null
        then (coalesce(s.part_cost, 0) + coalesce(s.labour_cost, 0) + coalesce(s.other_cost, 0)
            + coalesce(s.downtime_h * p.downtime_cost_per_hour, 0))::double end as cost,
    i.source_file as installation_file, s.installation_row, r.source_file as removal_file, s.removal_row
from fit.counted_lives as l
join lives.stays as s on s.stay_id = l.life_id
left join clean.service_points as p on p.service_point = l.service_point
left join files as i on i.load_id = s.installation_load_id
left join files as r on r.load_id = s.removal_load_id
order by l.service_point, l.installed_on, l.life_id
