-- results.teardown_findings: one row per hose taken apart and finding looked for, with the mechanism that people concluded there.
-- Reads fit.teardown_findings, fit.teardowns.
create or replace table results.teardown_findings as
select
    t.life_id, t.hose_id, t.service_point, t.removed_on, f.finding, case f.state when 1 then 'present' else 'absent' end as state,
    t.confirmed_mechanism
from fit.teardown_findings as f
join fit.teardowns as t using (teardown)
order by t.service_point, t.removed_on, t.hose_id, t.life_id, f.finding
