-- results.superseded: one row per loaded row that a later or equal row took the place of. A view: publishing reads it once and puts
-- its rows in order.
-- Reads clean.superseded, raw.loads.
create or replace view results.superseded as
select s.log, l.source_file, s.source_row, s.cause
from clean.superseded as s
join raw.loads as l using (load_id, entry_no)
