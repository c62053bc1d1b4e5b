-- Faulty rows: a planned pair that has not one place in each arm, a place in two plans' pairs of one trial or in a running trial,
-- and a place of a running trial whose change is planned for its cost alone.
with pairs as (
    select candidate, pair, count(*) as n_places, count(distinct arm) as n_arms, count(distinct service_point) as n_points
    from results.trial_log_rows
    group by candidate, pair
),

running as (
    select distinct t.service_point from results.trials as t where t.state = 'running'
)

select candidate as service_point, 'pair ' || pair as fault from pairs where n_places <> 2 or n_arms <> 2 or n_points <> 2
union all
select l.service_point, 'planned while in a running trial' from results.trial_log_rows as l join running using (service_point)
union all
select d.service_point, 'due for its cost while in a running trial'
from results.due as d join running using (service_point) where d.method = 'preventive age'
order by service_point, fault
