-- fit.vibration_natural: one row per place and construction whose natural frequency was measured: the latest figure.
-- The hose is the one that was in on the day of the look; a look at no known hose tells nothing of a construction.
-- Reads clean.inspections, lives.stays, fit.places.
create or replace table fit.vibration_natural as
with looks as (
    select f.place, s.construction, i.inspected_on, s.installed_on, i.natural_frequency_hz
    from clean.inspections as i
    join fit.places as f using (service_point)
    join lives.stays as s on s.service_point = i.service_point and s.installed_on <= i.inspected_on
        and (s.removed_on is null or i.inspected_on < s.removed_on)
    where i.natural_frequency_hz > 0 and s.construction is not null
)

select
    place, construction,
    arg_max(natural_frequency_hz, (inspected_on, installed_on, natural_frequency_hz)) as natural_frequency_hz
from looks
group by place, construction
order by place, construction
