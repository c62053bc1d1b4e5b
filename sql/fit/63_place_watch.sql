-- fit.place_watch: one row per service point watched for a day or more: from and to which age of the place, and its failures.
-- The age of a place counts from its first hose on record. Reads lives.lives, lives.orphans, clean.service_points.
create or replace table fit.place_watch as
with watched as (
    select service_point, min(installed_on) as first_on, max(coalesce(removed_on, $as_of::date)) as last_on
    from lives.lives
    group by service_point
),

failures as (
    select service_point, removed_on as failed_on from lives.lives where kind <> 'suspended' and removed_on is not null
    union all
    -- The hose that made room for the first one on record failed before the place was watched.
    select o.service_point, o.removed_on
    from lives.orphans as o
    join watched as w on w.service_point = o.service_point and o.removed_on > w.first_on
    where o.removal_reason in ('failed', 'found_failed', 'removed_degraded')
),

aged as (
    select
        w.service_point, w.first_on, greatest(max(w.last_on), max(f.failed_on)) - w.first_on + 1 as end_days,
        -- A failure on the day of the first installation still lies after it.
        list(greatest((f.failed_on - w.first_on)::double, 0.5) order by f.failed_on) filter (where f.failed_on >= w.first_on) as days
    from watched as w
    left join failures as f using (service_point)
    group by w.service_point, w.first_on
),

started as (
    select
        a.service_point, p.application_class, p.site, p.line, p.equipment,
        greatest(coalesce(p.records_from - a.first_on, 0), 0)::double as start_days, a.end_days::double as end_days,
        coalesce(a.days, []) as days
    from aged as a
    join clean.service_points as p using (service_point)
)

select
    service_point, application_class, site, line, equipment, start_days, end_days,
    list_filter(days, lambda day: day > start_days)::double[] as failed_after_days
from started
where end_days > start_days
order by service_point
