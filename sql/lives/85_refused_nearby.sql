-- lives.refused_nearby: one row per refused installation or removal whose place could be read:
-- a likely cause of a gap beside it. Reads clean.refused, clean.installations_typed,
-- clean.replacements_typed.
create or replace table lives.refused_nearby as
with refused as (
    select distinct log, load_id, entry_no, source_row, source_file
    from clean.refused
)

select
    r.log, t.point_no, t.hose_id, t.installed_on as happened_on,
    'row ' || r.source_row || ' of ' || r.source_file as found_at, t.row_no
from refused as r
join clean.installations_typed as t using (load_id, entry_no, source_row)
where r.log = 'installations' and t.point_no is not null
union all
select
    r.log, t.point_no, t.hose_id, t.removed_on,
    'row ' || r.source_row || ' of ' || r.source_file, t.row_no
from refused as r
join clean.replacements_typed as t using (load_id, entry_no, source_row)
where r.log = 'replacements' and t.point_no is not null
order by log, row_no
