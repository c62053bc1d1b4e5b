-- results.findings: one row per oddity met while lives were built from the logs.
-- Reads lives.findings, raw.loads.
create or replace table results.findings as
with files as (
    select load_id, min(source_file) as source_file from raw.loads group by load_id
)

select f.finding, f.service_point, f.hose_id, f.happened_on, l.source_file, f.source_row, f.detail
from lives.findings as f
left join files as l using (load_id)
order by f.finding, f.service_point, f.happened_on, f.hose_id, l.source_file, f.source_row, f.detail
