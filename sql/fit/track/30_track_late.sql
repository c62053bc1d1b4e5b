-- fit.track_late: one row: within how many days of the usual loading of a month's logs 95 % of its removals were known,
-- over months whose logs were loaded in time. Reads clean.replacements_cells, fit.track_loads.
create or replace table fit.track_late as
with first_known as (
    select min(r.removed_on) as removed_on, min(l.known_on) as known_on
    from clean.replacements_cells as r
    join fit.track_loads as l using (load_id)
    where r.reasons is null and not r.deleted
    group by r.key_hash
)

select coalesce(quantile_disc(greatest(0, known_on - last_day(removed_on) - $within_days::integer), 0.95), 0)::integer
    as late_days
from first_known
where list_contains($known_months::date[], last_day(removed_on))
