-- clean.superseded: one row per good row that another row of its key took the place of: the same
-- again, corrected later, or taken back. Reads clean.fates.
create or replace table clean.superseded as
select log, load_id, entry_no, source_row, fate as cause
from clean.fates
where fate <> 'conflict'
order by log, load_id, entry_no, source_row
