-- fit.clock_lives: one row per clock of the meters (run hours, cycles) and group of fitted lives that are equal in it, coded as
-- in fit.lives; reading says how far the readings tell the life: whole, or cut (they end before the life does: it counts as
-- running until then), or why not at all. No row where no life has readings.
-- Reads fit.coded_lives, lives.ran, lives.place_meters.
create or replace table fit.clock_lives as
with read as (
    select
        k.clock, l.cell, l.place, case when r.is_covered is false then -1 else l.mechanism end as mechanism,
        l.mechanism <> -1 as is_failure, round(r.ran_entry, 3) as entry, round(greatest(r.ran_low, r.ran_entry), 3) as low,
        case when l.mechanism = -1 or not r.is_covered then 'infinity'::double else round(r.ran_high, 3) end as high,
        r.is_covered, m.service_point is not null as has_meter
    from fit.coded_lives as l
    cross join (select distinct clock from lives.ran) as k
    left join lives.ran as r on r.stay_id = l.life_id and r.clock = k.clock
    left join lives.place_meters as m on m.service_point = l.service_point and m.clock = k.clock
),

judged as (
    select *, case
        when not has_meter then 'no meter'
        when is_covered is null then 'not from its start'
        when case when mechanism = -1 then low else high end <= entry then 'no run'
        when is_covered then 'whole' else 'cut' end as reading
    from read
)

select clock, reading, cell, place, mechanism, is_failure, entry, low, high, count(*)::double as n
from judged
group by all
order by clock, cell, place, entry, low, high, mechanism, reading, is_failure
