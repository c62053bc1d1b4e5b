-- fit.teardowns: one row per hose taken apart of which some finding can be read, with the mechanism that people concluded.
-- Reads fit.examined, fit.teardown_findings, lives.concluded, lives.lives, seeds.findings, seeds.record_words.
create or replace table fit.teardowns as
with counted as (
    select
        e.teardown, min(e.stay_id) as life_id, min(e.installation_no) as installation_no, min(e.hose_id) as hose_id,
        min(e.service_point) as service_point, min(e.removed_on) as removed_on, max(e.examined_on) as examined_on,
        count(*) filter (where f.finding is null and e.finding not in (select word from seeds.record_words)) as n_unread
    from fit.examined as e
    left join seeds.findings as f on e.finding in (f.finding, lower(f.words))
    group by e.teardown
)

select
    c.teardown, c.life_id, c.hose_id, c.service_point, c.removed_on, c.examined_on, c.n_unread,
    d.mechanism as confirmed_mechanism, nullif(l.mechanism, 'unknown') as logged_mechanism, coalesce(l.mechanism = 'unknown', false) as is_open
from counted as c
left join lives.concluded as d using (installation_no)
left join lives.lives as l using (life_id)
where c.teardown in (select teardown from fit.teardown_findings)
order by c.teardown
