-- results.vibration_lives: one row per application class, construction and velocity: B10 away from resonance, between the ends of its hoses.
-- Reads vibration_lives_frame.
create or replace table results.vibration_lives as
select application_class, construction, velocity_mm_s, b10_days, b10_days_lower, b10_days_upper
from vibration_lives_frame
order by application_class, construction, velocity_mm_s
