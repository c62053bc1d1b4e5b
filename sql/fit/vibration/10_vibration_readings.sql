-- fit.vibration_readings: one row per measured vibration of a place: its register entry and every look with a reading.
-- Reads clean.service_points, clean.inspections, fit.places.
create or replace table fit.vibration_readings as
with every as (
    select service_point, date '0001-01-01' as measured_on, vibration_mm_s_rms, vibration_hz from clean.service_points
    union all
    select service_point, inspected_on, vibration_mm_s_rms, vibration_hz from clean.inspections
)

select f.place, e.measured_on, e.vibration_mm_s_rms, e.vibration_hz
from every as e
join fit.places as f using (service_point)
where e.vibration_mm_s_rms > 0
order by f.place, e.measured_on, e.vibration_mm_s_rms, e.vibration_hz
