-- results.finding_vocabulary: one row per finding that a teardown log may name, with the mechanisms it speaks for and against.
-- Reads seeds.findings, seeds.evidence.
create or replace table results.finding_vocabulary as
select
    f.finding, f.words, f.kind, f.looked_at,
    list(e.mechanism order by e.strength::integer desc, e.mechanism) filter (where e.strength::integer > 0) as speaks_for,
    list(e.mechanism order by e.strength::integer, e.mechanism) filter (where e.strength::integer < 0) as speaks_against,
    max(e.source) as source, max(e.status) as status, max(e.strength_status) as strength_status
from seeds.findings as f
left join seeds.evidence as e using (finding)
group by f.finding, f.words, f.kind, f.looked_at
order by f.finding
