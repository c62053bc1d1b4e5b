-- lives.metered: one row per stay and clock whose place has a meter that covers it: what ran from
-- installation to entry, to both ends and to the day it ended. Between readings it runs evenly;
-- after the last one it runs on for 90 days at most, at the pace of the last year. A place's own
-- meter goes before that of its machine. Reads lives.stays, lives.meters, clean.service_points.
create or replace table lives.metered as
with meters as (
    select clock || coalesce(' e' || equipment, ' p' || service_point) as meter, *
    from lives.meters
),

places as (
    select p.service_point, k.clock, k.clock || coalesce(' p' || o.service_point, ' e' || p.equipment)
        as meter
    from clean.service_points as p
    cross join (select distinct clock from lives.meters) as k
    left join (select distinct clock, service_point from lives.meters) as o
        on o.clock = k.clock and o.service_point = p.service_point
),

stays as (
    select s.stay_id, p.clock, p.meter, s.installed_on, s.entry_on, s.low_on, s.high_on, s.ended_on
    from lives.stays as s
    join places as p using (service_point)
    where p.meter in (select meter from meters)
),

asked as (
    unpivot (from stays)
    on installed_on, entry_on, low_on, high_on, ended_on into name which value day
),

answered as (
    select
        k.stay_id, k.clock, k.which, case
            when m.next_read_on is not null then m.total + (m.next_total - m.total)
                * (k.day - m.read_on) / (m.next_read_on - m.read_on)
            when k.day = m.read_on then m.total
            when k.day - m.read_on <= 90 then m.total + m.per_day * (k.day - m.read_on)
        end as total
    from asked as k
    asof join meters as m on m.meter = k.meter and k.day >= m.read_on
),

gathered as (
    select
        stay_id, clock,
        max(total) filter (where which = 'installed_on') as at_installation,
        max(total) filter (where which = 'entry_on') as at_entry,
        max(total) filter (where which = 'low_on') as at_low,
        max(total) filter (where which = 'high_on') as at_high,
        max(total) filter (where which = 'ended_on') as at_end
    from answered
    group by stay_id, clock
)

select
    g.stay_id, g.clock, g.at_entry - g.at_installation as ran_entry, g.at_low - g.at_installation as ran_low,
    g.at_high - g.at_installation as ran_high, g.at_end - g.at_installation as ran_end
from gathered as g
join lives.stays as a using (stay_id)
where g.at_installation is not null and g.at_entry is not null and g.at_low is not null
    and g.at_end is not null and (g.at_high is not null or a.kind = 'suspended')
order by g.stay_id, g.clock
