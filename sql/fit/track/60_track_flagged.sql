-- fit.track_flagged: one row per basis and place that an earlier month end called failure-prone, at the first such month end:
-- its failures since, and the mean of places of its class that were not called so then. Reads fit.track_place_outcomes,
-- clean.service_points.
create or replace table fit.track_flagged as
with told as (
    select t.*, p.application_class, t.as_of = min(t.as_of) filter (where is_failure_prone) over whole as is_first,
        count(*) filter (where is_failure_prone) over whole as n_origins_flagged
    from fit.track_place_outcomes as t
    join clean.service_points as p using (service_point)
    window whole as (partition by t.basis, t.service_point)
),

likes as (
    select basis, as_of, application_class, count(*) as n_like, sum(failed_since)::double / count(*) as like_failed_since
    from told
    where not is_failure_prone
    group by basis, as_of, application_class
)

select
    t.as_of, t.basis, t.service_point, t.application_class, t.n_origins_flagged, t.relative_rate,
    t.observed_failures, t.failures_expected_so_far, t.days_since, t.failed_since,
    l.like_failed_since, coalesce(l.n_like, 0) as n_like
from told as t
left join likes as l on l.basis = t.basis and l.as_of = t.as_of and l.application_class = t.application_class
where t.is_failure_prone and t.is_first
order by t.as_of, t.service_point, t.basis
