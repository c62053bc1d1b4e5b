-- clean.returned: one row per current row of which a later file took back a correction, so that
-- its key has an earlier value again. Reads clean.repeated, clean.fates.
create or replace table clean.returned as
with corrected as (
    select r.log, r.key_hash, r.key_check, r.cells_hash
    from clean.repeated as r
    join clean.fates as f using (log, row_no)
    where f.fate = 'corrected'
)

select now.log, now.row_no, now.load_id, now.entry_no, now.source_row
from clean.repeated as now
semi join corrected using (log, key_hash, key_check, cells_hash)
anti join clean.fates using (log, row_no)
order by now.log, now.row_no
