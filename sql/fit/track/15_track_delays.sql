-- fit.track_delays: one row per month and delay: removals first known so many month ends after their own, in months whose logs
-- came as they went by. Reads clean.replacements_cells, fit.track_loads.
create or replace table fit.track_delays as
with first_known as (
    select min(r.removed_on) as removed_on, min(l.known_on) - $within_days::integer as known_on
    from clean.replacements_cells as r
    join fit.track_loads as l using (load_id)
    where r.reasons is null and not r.deleted
    group by r.key_hash
)

select
    12 * year(removed_on) + month(removed_on) as month_number,
    greatest(0, datediff('month', removed_on, known_on)) as delay_months, count(*) as n
from first_known
where list_contains($known_months::date[], last_day(removed_on))
group by month_number, delay_months
order by month_number, delay_months
