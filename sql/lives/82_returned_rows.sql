-- lives.returned_rows: one row per correction that a later file took back, and per row of a file
-- that takes back a key which no good row has. What pages enter takes back answers that were
-- perhaps never given. Reads clean.returned, clean.fates, raw.loads.
create or replace view lives.returned_rows as
select
    'returned to an earlier value' as finding, null::varchar as service_point,
    null::varchar as hose_id, load_id, source_row, null::date as happened_on,
    'A row of ' || log || ' undoes a correction: was an old file loaded again?' as detail
from clean.returned
union all
select
    'nothing to take back', null, null, f.load_id, f.source_row, null,
    'The row is marked as deleted, but no good row of ' || f.log
    || ' has its key: is the key written as it was? A good row that it should take back still counts.'
from clean.fates as f
join raw.loads as l on l.load_id = f.load_id and l.entry_no = f.entry_no
where f.fate = 'deletes nothing' and l.source_file <> f.log || '.jsonl'
