-- clean.returned: one row per current row of which a later file took back a correction, so that
-- its key has an earlier value again. Reads clean.repeated, clean.fates.
create or replace table clean.returned as
with judged as (
    select r.*, f.fate
    from clean.repeated as r
    left join clean.fates as f using (log, row_no)
)

select distinct now.log, now.row_no, now.load_id, now.entry_no, now.source_row
from judged as now
join judged as earlier
    on earlier.log = now.log and earlier.key_hash = now.key_hash
    and earlier.key_check = now.key_check and earlier.cells_hash = now.cells_hash
    and earlier.fate = 'corrected'
where now.fate is null
order by now.log, now.row_no
