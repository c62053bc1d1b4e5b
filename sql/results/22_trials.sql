-- results.trials: one row per registered trial, place and arm, with the hoses of that arm at that place so far.
-- Its columns in the log as well, so that a decision entered in the pages can keep them; who entered the row and when, if one did.
-- Reads clean.trials, raw.trials, raw.loads, lives.lives.
create or replace table results.trials as
select
    t.trial, t.service_point, t.arm, t.construction,
    case when t.decision is not null then 'decided: ' || t.decision when t.ended_on is not null then 'ended' else 'running' end as state,
    t.started_on, t.ended_on, count(l.life_id) as n_hoses, count(l.life_id) filter (where l.kind <> 'suspended') as n_failures,
    coalesce(sum(coalesce(l.removed_on, $as_of::date) - l.installed_on), 0) as days_in_service,
    t.decision, t.decision_reason, t.pair, t.planned_end_on, t.planned_failures, t.early_failure_limit, t.expected_life_ratio,
    t.expected_life_ratio_log_sd, t.coin_seed, t.rule, t.row_id,
    max(r.other_cells ->> '$."entered by"') as entered_by, max(r.other_cells ->> '$."entered at"') as entered_at
from clean.trials as t
left join raw.loads as o
    on o.load_id = t.load_id and o.entry_no = t.entry_no and o.source_file = 'trials.jsonl'
left join raw.trials as r
    on r.load_id = o.load_id and r.entry_no = o.entry_no and r.source_row = t.source_row
left join lives.lives as l
    on l.service_point = t.service_point and l.construction = t.construction and l.installed_on >= t.started_on
    and (t.ended_on is null or l.installed_on < t.ended_on)
group by all
order by t.trial, t.service_point, t.arm, t.construction, t.started_on, t.row_id
