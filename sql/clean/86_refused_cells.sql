-- clean.refused_cells: one row per cell that was kept out of a row that stays, with why and what
-- to do about it: an optional cell that cannot be read leaves its row as if it were empty.
-- Reads clean.cell_faults, clean.refused, clean.fates, clean.remedies,
-- clean.near_words, raw.loads.
create or replace table clean.refused_cells as
select
    f.log, f.load_id, f.entry_no, l.source_file, f.source_row, f.column_name, f.value, f.reason,
    coalesce('Did you mean ' || n.word || '? ', '') || coalesce(r.remedy, 'Correct the cell.')
        as remedy
from clean.cell_faults as f
join raw.loads as l on l.load_id = f.load_id and l.entry_no = f.entry_no
left join clean.remedies as r
    on r.log = f.log and r.column_name = f.column_name and r.reason = f.reason
left join clean.near_words as n
    on n.log = f.log and n.column_name = f.column_name and n.value = f.value
anti join clean.fates as gone on gone.log = f.log and gone.row_no = f.row_no
anti join clean.refused as out
    on out.log = f.log and out.load_id = f.load_id and out.entry_no = f.entry_no
    and out.source_row = f.source_row
order by f.log, f.load_id, f.entry_no, f.source_row, f.column_name, f.reason
