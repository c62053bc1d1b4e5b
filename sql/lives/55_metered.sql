-- lives.metered: one row per stay and clock whose place has a meter that covers its beginning: what
-- ran from installation to entry, to both ends and to the day it ended, where the meter covers
-- them, and to the last day that it covers. Between readings it runs evenly; after the last one it
-- runs on for 90 days at most, at the pace of the last year.
-- Reads lives.stays, lives.meters, lives.place_meters.
create or replace table lives.metered as
with meters as (
    select clock || coalesce(' e' || equipment, ' p' || service_point) as meter, *
    from lives.meters
),

stays as (
    select
        s.stay_id, p.clock, p.meter, s.installed_on, s.entry_on, s.low_on, s.high_on, s.ended_on,
        least(s.low_on, p.last_read_on + 90) as watched_on
    from lives.stays as s
    join lives.place_meters as p using (service_point)
),

asked as (
    unpivot (from stays)
    on installed_on, entry_on, low_on, high_on, ended_on, watched_on into name which value day
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
        max(total) filter (where which = 'ended_on') as at_end,
        max(total) filter (where which = 'watched_on') as at_watched
    from answered
    group by stay_id, clock
)

select
    g.stay_id, g.clock, g.at_entry - g.at_installation as ran_entry, g.at_low - g.at_installation as ran_low,
    g.at_high - g.at_installation as ran_high, g.at_end - g.at_installation as ran_end,
    g.at_watched - g.at_installation as ran_watched, g.at_low is not null and g.at_end is not null
        and (g.at_high is not null or a.kind = 'suspended') as is_covered
from gathered as g
join lives.stays as a using (stay_id)
where g.at_installation is not null and g.at_entry is not null
order by g.stay_id, g.clock
