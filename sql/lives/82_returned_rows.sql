-- lives.returned_rows: one row per correction that a later file took back. Reads clean.returned.
create or replace view lives.returned_rows as
select
    'returned to an earlier value' as finding, null::varchar as service_point,
    null::varchar as hose_id, load_id, source_row, null::date as happened_on,
    'A row of ' || log || ' undoes a correction: was an old file loaded again?' as detail
from clean.returned
