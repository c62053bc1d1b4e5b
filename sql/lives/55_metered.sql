-- lives.metered: one row per stay whose place has a run-hour meter that covers it: the hours from
-- installation to entry, to both ends and to the day it ended. Between readings the hours run
-- evenly; after the last one they run on for 90 days at most, at the pace of the last year.
-- Reads lives.stays, lives.meters, clean.service_points.
create or replace table lives.metered as
with own as (
    select distinct service_point from lives.meters where service_point is not null
),

places as (
    select
        p.service_point, case when o.service_point is null then p.equipment end as equipment,
        o.service_point as meter_point
    from clean.service_points as p
    left join own as o using (service_point)
),

meters as (
    select coalesce('e' || equipment, 'p' || service_point) as meter, * from lives.meters
),

stays as (
    select
        s.stay_id, s.installed_on, s.entry_on, s.low_on, s.high_on, s.ended_on,
        coalesce('p' || p.meter_point, 'e' || p.equipment) as meter
    from lives.stays as s
    join places as p using (service_point)
    where coalesce('p' || p.meter_point, 'e' || p.equipment) in (select meter from meters)
),

asked as (
    unpivot (
        select stay_id, meter, installed_on, entry_on, low_on, high_on, ended_on from stays)
    on installed_on, entry_on, low_on, high_on, ended_on into name which value day
),

answered as (
    select
        k.stay_id, k.which, case
            when m.next_read_on is not null then m.hours_run + (m.next_hours_run - m.hours_run)
                * (k.day - m.read_on) / (m.next_read_on - m.read_on)
            when k.day = m.read_on then m.hours_run
            when k.day - m.read_on <= 90 then m.hours_run + m.hours_per_day * (k.day - m.read_on)
        end as hours_run
    from asked as k
    asof join meters as m on m.meter = k.meter and k.day >= m.read_on
),

gathered as (
    select
        stay_id,
        max(hours_run) filter (where which = 'installed_on') as at_installation,
        max(hours_run) filter (where which = 'entry_on') as at_entry,
        max(hours_run) filter (where which = 'low_on') as at_low,
        max(hours_run) filter (where which = 'high_on') as at_high,
        max(hours_run) filter (where which = 'ended_on') as at_end
    from answered
    group by stay_id
)

select
    g.stay_id, g.at_entry - g.at_installation as hours_entry, g.at_low - g.at_installation as hours_low,
    g.at_high - g.at_installation as hours_high, g.at_end - g.at_installation as hours_end
from gathered as g
join lives.stays as a using (stay_id)
where g.at_installation is not null and g.at_entry is not null and g.at_low is not null
    and g.at_end is not null and (g.at_high is not null or a.kind = 'suspended')
order by g.stay_id
