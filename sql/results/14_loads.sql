-- results.loads: one row per file and log, with what became of its rows.
-- Reads raw.loads, clean.refused, clean.superseded.
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
)

select
    l.load_id, l.source_file, l.log, l.loaded_on, l.exported_on, l.n_records, l.n_blank, l.n_skipped,
    coalesce(s.n_superseded, 0) as n_superseded, coalesce(r.n_refused, 0) as n_refused,
    l.n_records - coalesce(s.n_superseded, 0) - coalesce(r.n_refused, 0) as n_clean, l.status, l.message
from raw.loads as l
left join refused as r using (log, load_id, entry_no)
left join superseded as s using (log, load_id, entry_no)
order by l.load_id, l.entry_no
