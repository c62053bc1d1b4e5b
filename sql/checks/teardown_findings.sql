-- Faulty rows: findings that no list knows, or of a hose without teardown evidence.
select f.hose_id, f.service_point, f.removed_on, f.finding
from results.teardown_findings as f
where f.finding not in (select finding from results.finding_vocabulary)
    or not exists (
        select 1 from results.teardown_evidence as e
        where e.hose_id is not distinct from f.hose_id and e.service_point is not distinct from f.service_point
            and e.removed_on is not distinct from f.removed_on and e.n_checked > 0)
order by f.service_point, f.removed_on, f.hose_id, f.finding
