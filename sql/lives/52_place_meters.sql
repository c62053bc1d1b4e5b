-- lives.place_meters: one row per service point and clock with the meter that counts for it: its
-- own, or else that of its machine. Reads lives.meters, clean.service_points.
create or replace table lives.place_meters as
with meters as (
    select
        clock, equipment, service_point, clock || coalesce(' e' || equipment, ' p' || service_point)
            as meter, max(read_on) as last_read_on
    from lives.meters
    group by clock, equipment, service_point
),

counted as (
    select
        p.service_point, k.clock, k.clock || coalesce(' p' || o.service_point, ' e' || p.equipment)
            as meter
    from clean.service_points as p
    cross join (select distinct clock from meters) as k
    left join meters as o on o.clock = k.clock and o.service_point = p.service_point
)

select c.service_point, c.clock, c.meter, m.last_read_on
from counted as c
join meters as m using (meter)
order by c.service_point, c.clock
