-- results.vibration_places: one row per service point of a class that vibrates: what is believed of its velocity.
-- Reads vibration_places_frame.
create or replace table results.vibration_places as
select
    service_point, application_class, construction, velocity_mm_s, velocity_mm_s_lower, velocity_mm_s_upper, n_readings, frequency_hz,
    natural_frequency_hz, n_lives, n_failures
from vibration_places_frame
order by service_point
