-- lives.swaps_beside_rows: one row per hose that changed places as the mapping declares, while a log
-- says that it came out that day for another reason. The log stands.
-- Reads clean.fates, clean.replacements_cells, clean.replacements, raw.loads.
create or replace table lives.swaps_beside_rows as
select
    'swap beside a removal' as finding, r.service_point, r.hose_id, r.load_id, r.source_row,
    r.removed_on as happened_on,
    'columns.toml says that it changed places that day, the log that it came out for another reason ('
    || r.reason || '). The log stands: correct one of the two.' as detail
from clean.fates as f
join raw.loads as l using (load_id, entry_no)
join clean.replacements_cells as s using (row_no)
join clean.replacements as r
    on r.service_point = s.service_point and r.removed_on = s.removed_on and r.hose_id = s.hose_id
where f.log = 'replacements' and l.source_file = 'columns.toml' and r.reason <> s.reason
