-- results.loads: one row per file and log, with what became of its rows.
-- Reads raw.loads, clean.refused, clean.superseded, and the ten clean logs.
create or replace table results.loads as
with refused as (
    select log, load_id, entry_no, count(distinct source_row) as n_refused
    from clean.refused
    group by log, load_id, entry_no
),

superseded as (
    select log, load_id, entry_no, count(*) as n_superseded
    from clean.superseded
    group by log, load_id, entry_no
),

used as (
    select 'service_points' as log, load_id, entry_no from clean.service_points
    union all
    select 'constructions', load_id, entry_no from clean.constructions
    union all
    select 'parts', load_id, entry_no from clean.parts
    union all
    select 'installations', load_id, entry_no from clean.installations
    union all
    select 'replacements', load_id, entry_no from clean.replacements
    union all
    select 'inspections', load_id, entry_no from clean.inspections
    union all
    select 'teardowns', load_id, entry_no from clean.teardowns
    union all
    select 'usage', load_id, entry_no from clean.usage
    union all
    select 'stock', load_id, entry_no from clean.stock
    union all
    select 'trials', load_id, entry_no from clean.trials
),

kept as (
    select log, load_id, entry_no, count(*) as n_clean
    from used
    group by log, load_id, entry_no
)

select
    l.load_id, l.source_file, l.log, l.loaded_on, l.exported_on, l.n_records, l.n_blank, l.n_skipped,
    l.n_left_out,
    coalesce(k.n_clean, 0) as n_clean, coalesce(s.n_superseded, 0) as n_superseded, coalesce(r.n_refused, 0) as n_refused,
    l.status, l.message
from raw.loads as l
left join kept as k using (log, load_id, entry_no)
left join superseded as s using (log, load_id, entry_no)
left join refused as r using (log, load_id, entry_no)
order by l.load_id, l.entry_no
