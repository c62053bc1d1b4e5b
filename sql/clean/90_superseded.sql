-- clean.superseded: one row per good row that another row of its key took the place of: the same
-- again, corrected later, or taken back. A view: the rows stand in clean.fates. Reads clean.fates.
create or replace view clean.superseded as
select log, load_id, entry_no, source_row, fate as cause
from clean.fates
where fate <> 'conflict'
