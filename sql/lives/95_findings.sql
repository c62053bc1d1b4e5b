-- lives.findings: one row per oddity met on the way, at a place or in the logs as a whole, with the
-- row it starts from. Reads lives.place_findings, lives.unlisted_parts, lives.returned_rows.
create or replace view lives.findings as
select finding, service_point, hose_id, load_id, source_row, happened_on, detail
from (
    select * from lives.place_findings union all select * from lives.unlisted_parts
    union all select * from lives.returned_rows)
