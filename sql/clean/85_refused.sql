-- clean.refused: one row per fault that keeps a row out, with what to do about it.
-- Reads clean.row_faults, clean.impossible, clean.conflicts, clean.remedies, clean.near_words,
-- clean.unknown_places, raw.unreadable, raw.loads.
create or replace table clean.refused as
with faulty as (
    select log, load_id, entry_no, source_row, column_name, value, reason, '' as beside
    from clean.row_faults
    union all
    select log, load_id, entry_no, source_row, column_name, value, reason, beside
    from clean.impossible
    union all
    select log, load_id, entry_no, source_row, column_name, value, reason, '' from clean.conflicts
),

advised as (
    select
        l.log, f.load_id, f.entry_no, l.source_file, f.source_row, f.column_name, f.value, f.reason,
        coalesce(p.remedy, coalesce(f.beside, '') || coalesce('Did you mean ' || n.word || '? ', '')
            || coalesce(r.remedy, 'Correct the row.')) as remedy
    from faulty as f
    join raw.loads as l on l.load_id = f.load_id and l.entry_no = f.entry_no
    left join clean.remedies as r
        on r.log = f.log and r.column_name = f.column_name and r.reason = f.reason
    left join clean.near_words as n
        on n.log = f.log and n.column_name = f.column_name and n.value = f.value
    left join clean.unknown_places as p
        on f.reason = 'is no known service point' and p.log = f.log and p.value = f.value
        and p.typing_group is not distinct from l.typing_group
    union all
    select l.log, u.load_id, u.entry_no, u.source_file, u.source_row, u.column_name, u.value,
        u.reason, u.remedy
    from raw.unreadable as u
    join raw.loads as l on l.load_id = u.load_id and l.entry_no = u.entry_no
)

select log, load_id, entry_no, source_file, source_row, column_name, value, reason, remedy
from advised
order by log, load_id, entry_no, source_row, column_name, reason, value
