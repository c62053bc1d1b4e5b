-- fit.vibration_places: one row per service point: what its duty adds to vibration; the frequency is the latest measured one.
-- Reads fit.places, fit.vibration_readings, clean.service_points.
create or replace table fit.vibration_places as
with measured as (
    select place, arg_max(vibration_hz, (measured_on, vibration_hz)) as vibration_hz
    from fit.vibration_readings
    where vibration_hz > 0
    group by place
)

select
    f.place, f.service_point, f.application_class, f.construction, f.dn::double as dn, f.pressure_bar, f.temperature_c,
    f.bend_radius_mm, p.flow_velocity_m_s, p.live_length_mm,
    coalesce(m.vibration_hz, case when p.vibration_hz > 0 then p.vibration_hz end) as vibration_hz
from fit.places as f
join clean.service_points as p using (service_point)
left join measured as m using (place)
order by f.place
