-- fit.teardown_findings: one row per hose taken apart and finding looked for: 1 present, -1 absent. The latest examination counts;
-- rows of one day that contradict each other, and what the log calls not checked, leave a finding out.
-- Reads fit.examined, seeds.findings, seeds.finding_states.
create or replace table fit.teardown_findings as
with read as (
    select
        e.teardown, f.finding, e.examined_on,
        case coalesce(s.state, 'present') when 'present' then 1 when 'absent' then -1 end as state
    from fit.examined as e
    join seeds.findings as f on e.finding in (f.finding, lower(f.words))
    left join seeds.finding_states as s on s.word = e.value
),

latest as (
    select * from read
    where state is not null
    qualify examined_on = max(examined_on) over (partition by teardown, finding)
)

select teardown, finding, min(state) as state
from latest
group by teardown, finding
having count(distinct state) = 1
order by teardown, finding
