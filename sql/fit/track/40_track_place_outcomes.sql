-- fit.track_place_outcomes: one row per earlier month end and place that had a hose then: what failed there afterwards.
-- A failure without a recorded cost counts at the cost that was assumed then.
-- Reads fit.track_places, fit.track_failures, fit.track_late.
create or replace table fit.track_place_outcomes as
with failed as (
    select
        t.as_of, t.service_point,
        count(*) filter (where f.removed_on <= last_day(t.as_of + interval 1 month)) as failed_1,
        count(*) filter (where f.removed_on <= last_day(t.as_of + interval 3 month)) as failed_3,
        count(*) filter (where f.removed_on <= last_day(t.as_of + interval 6 month)) as failed_6,
        count(*) filter (where f.removed_on <= last_day(t.as_of + interval 12 month)) as failed_12,
        count(*) filter (where f.removed_on <= t.as_of + 90) as failed_90_days, count(*) as failed_since,
        sum(coalesce(f.cost, t.price::decimal(38, 2))) filter (
            where f.removed_on <= last_day(t.as_of + interval 12 month)) as cost_12
    from fit.track_places as t
    join fit.track_failures as f on f.service_point = t.service_point and f.removed_on > t.as_of
    group by t.as_of, t.service_point
)

select
    t.*, coalesce(f.failed_1, 0) as failed_1, coalesce(f.failed_3, 0) as failed_3, coalesce(f.failed_6, 0) as failed_6,
    coalesce(f.failed_12, 0) as failed_12, coalesce(f.failed_90_days, 0) > 0 as happened_90_days,
    coalesce(f.failed_12, 0) > 0 as happened_12_months, coalesce(f.failed_since, 0) as failed_since,
    coalesce(f.cost_12, 0) as cost_12, t.as_of + 90 + l.late_days <= $as_of::date as is_over_90_days,
    last_day(t.as_of + interval 12 month) + l.late_days <= $as_of::date as is_over_12_months,
    $as_of::date - t.as_of as days_since
from fit.track_places as t
cross join fit.track_late as l
left join failed as f on f.as_of = t.as_of and f.service_point = t.service_point
order by t.as_of, t.service_point
