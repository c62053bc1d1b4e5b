-- lives.refused_nearby: one row per refused installation or removal whose place could be read:
-- a likely cause of a gap beside it. Reads clean.row_faults, clean.impossible, clean.fates,
-- clean.installations_cells, clean.replacements_cells, raw.loads.
create or replace table lives.refused_nearby as
with refused as (
    select row_no from clean.row_faults
    union all
    select row_no from clean.impossible
    union all
    select row_no from clean.fates where fate = 'conflict'
),

placed as (
    select 'installations' as log, point_no, hose_id, installed_on as happened_on, load_id, entry_no,
        source_row, row_no
    from clean.installations_cells
    where point_no is not null and row_no in (from refused)
    union all
    select 'replacements', point_no, hose_id, removed_on, load_id, entry_no, source_row, row_no
    from clean.replacements_cells
    where point_no is not null and row_no in (from refused)
)

select
    p.log, p.point_no, p.hose_id, p.happened_on,
    'row ' || p.source_row || ' of ' || l.source_file as found_at, p.row_no
from placed as p
join raw.loads as l using (load_id, entry_no)
-- Each is put beside each gap of its place, of which one hose at a time leaves few.
qualify row_number() over (partition by p.log, p.point_no order by p.row_no) <= 100
order by p.log, p.row_no
