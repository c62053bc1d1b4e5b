-- fit.place_mechanisms: one row per service point with a concluded mechanism: the commonest, and its share of all failures.
-- Reads fit.counted_lives.
create or replace table fit.place_mechanisms as
with counted as (
    select service_point, mechanism, count(*) as n, sum(count(*)) over (partition by service_point) as n_failures
    from fit.counted_lives
    where kind <> 'suspended'
    group by service_point, mechanism
)

select service_point, arg_max(mechanism, (n, mechanism)) as mechanism, max(n) / max(n_failures)::double as share
from counted
where mechanism <> 'unknown'
group by service_point
order by service_point
