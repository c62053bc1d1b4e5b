-- results.trials: one row per registered trial, place and arm, with the hoses of that arm at that place so far.
-- Reads clean.trials, lives.lives.
create or replace table results.trials as
select
    t.trial, t.service_point, t.arm, t.construction,
    case when t.decision is not null then 'decided: ' || t.decision when t.ended_on is not null then 'ended' else 'running' end as state,
    t.started_on, t.ended_on, count(l.life_id) as n_hoses, count(l.life_id) filter (where l.kind <> 'suspended') as n_failures,
    coalesce(sum(coalesce(l.removed_on, $as_of::date) - l.installed_on), 0) as days_in_service
from clean.trials as t
left join lives.lives as l
    on l.service_point = t.service_point and l.construction = t.construction and l.installed_on >= t.started_on
    and (t.ended_on is null or l.installed_on < t.ended_on)
group by t.trial, t.service_point, t.arm, t.construction, t.decision, t.ended_on, t.started_on
order by t.trial, t.service_point, t.arm, t.construction, t.started_on
