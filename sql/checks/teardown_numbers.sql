-- Faulty rows: teardown evidence whose probabilities rise with the rank or exceed 1 together, without a level of its leader, or
-- counted although the life stands under another mechanism.
with summed as (
    select
        *, sum(probability) over w as total, lag(probability) over (w order by rank) as likelier
    from results.teardown_evidence
    window w as (partition by life_id, hose_id, service_point, removed_on)
)

select s.hose_id, s.service_point, s.removed_on, s.rank, s.mechanism, s.probability
from summed as s
left join results.lives as l using (life_id)
where isnan(s.probability) or s.probability not between 0 and 1 or s.total > 1.000001 or s.probability > s.likelier
    or s.coverage not between 0 and 1 or (s.rank = 1) <> (s.level is not null) or s.n_present > s.n_checked
    or s.is_counted and l.mechanism is distinct from s.mechanism
order by s.service_point, s.removed_on, s.hose_id, s.rank
