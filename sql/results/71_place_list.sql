-- results.place_list: one row per service point, numbered and stored in the order of its rank: what the table of all places shows
-- and searches, so that no page of it joins or sorts names. Reads results.service_points, results.ranking, results.names.
create or replace table results.place_list as
select
    row_number() over (order by r.rank nulls last, n.name_no)::integer as place_no, n.name_no, r.rank, p.service_point,
    p.application_class, p.site, p.area, p.line, p.hazards, p.construction, p.hose_id, p.installed_on, p.age_days, p.retired_on,
    p.n_lives, p.n_failures, p.n_suspensions, r.failures_expected_so_far, r.relative_rate, r.relative_rate_lower,
    r.relative_rate_upper, r.n_peers, r.is_failure_prone, r.expected_failures, r.expected_cost, r.expected_cost_lower,
    r.expected_cost_upper, r.cost_origin, r.failure_probability_90_days, r.failure_probability_90_days_lower,
    r.failure_probability_90_days_upper, r.reason, r.next_step, r.next_step_reason,
    lower(concat_ws(' ', p.service_point, p.application_class, p.site, p.area, p.line, p.equipment, p.medium, p.hose_id,
        p.part_number)) as searched
from results.service_points as p
left join results.ranking as r using (service_point)
left join results.names as n on n.kind = 'place' and n.name = p.service_point
order by place_no
