-- fit.track_loads: one row per file of events: when its rows were known, the latest installation or removal it holds.
-- A row cannot be known before it happened, whatever date the file bears. Reads raw.loads, clean.installations_cells,
-- clean.replacements_cells.
create or replace table fit.track_loads as
with events as (
    select load_id, latest_on from clean.installations_cells where reasons is null and latest_on <= $as_of::date
    union all
    select load_id, latest_on from clean.replacements_cells where reasons is null and latest_on <= $as_of::date
),

latest as (
    select load_id, max(latest_on) as last_event_on from events group by load_id
),

files as (
    select load_id, max(coalesce(exported_on, loaded_on)) as stated_on, min(loaded_on) as loaded_on, max(sha256) as sha256
    from raw.loads
    where status = 'loaded' and log not in ('service_points', 'constructions', 'parts')
    group by load_id
)

select f.load_id, greatest(f.stated_on, l.last_event_on) as known_on, f.loaded_on, f.sha256, l.last_event_on
from files as f
left join latest as l using (load_id)
order by f.load_id
