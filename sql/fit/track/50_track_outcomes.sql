-- fit.track_outcomes: one row per earlier month end, scope and span: failures at the places that the forecast was about.
-- Reads fit.track_place_outcomes, fit.track_late, clean.service_points.
create or replace table fit.track_outcomes as
with members as (
    select
        t.*, unnest([
            {'scope': 'fleet', 'scope_name': 'all'}, {'scope': 'site', 'scope_name': p.site},
            {'scope': 'line', 'scope_name': case when p.line is not null then concat_ws(', ', p.site, p.line) end},
            {'scope': 'application_class', 'scope_name': p.application_class},
            {'scope': 'part', 'scope_name': t.part_number}
        ], recursive := true)
    from fit.track_place_outcomes as t
    join clean.service_points as p using (service_point)
),

summed as (
    select
        as_of, scope, scope_name, unnest([
            {'horizon_months': 1, 'n_failed': sum(failed_1)}, {'horizon_months': 3, 'n_failed': sum(failed_3)},
            {'horizon_months': 6, 'n_failed': sum(failed_6)}, {'horizon_months': 12, 'n_failed': sum(failed_12)}
        ], recursive := true),
        sum((expected_failures * price)::decimal(38, 2)) as cost_mean, sum(cost_12) as cost_observed
    from members
    where scope_name is not null
    group by as_of, scope, scope_name
)

select
    s.as_of, s.scope, s.scope_name, s.horizon_months, s.n_failed::bigint as n_failed,
    last_day(s.as_of + to_months(s.horizon_months)) as until,
    last_day(s.as_of + to_months(s.horizon_months)) + l.late_days <= $as_of::date as is_over,
    case when s.horizon_months = 12 then s.cost_mean::double end as cost_mean,
    case when s.horizon_months = 12 then s.cost_observed::double end as cost_observed
from summed as s
cross join fit.track_late as l
order by s.as_of, s.scope, s.scope_name, s.horizon_months
