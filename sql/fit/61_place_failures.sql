-- fit.place_failures: one row per service point with failures: days of its failures since the first hose, early ones counted.
-- Reads lives.lives.
create or replace table fit.place_failures as
with dated as (
    select
        service_point, kind, age_high_days, removed_on, min(installed_on) over (partition by service_point) as first_on,
        max(coalesce(removed_on, $as_of::date)) over (partition by service_point) as last_on
    from lives.lives
)

select
    service_point, list((removed_on - first_on)::double order by removed_on, age_high_days) as failed_after_days,
    max(last_on - first_on)::double as observed_days, count(*) filter (where age_high_days <= $early_failure_days) as n_early
from dated
where kind <> 'suspended' and removed_on is not null
group by service_point
order by service_point
