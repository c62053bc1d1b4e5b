-- results.vibration_cells: one row per application class, construction and cell of velocity and frequency: B10, or why it is blank.
-- Reads vibration_cells_frame.
create or replace table results.vibration_cells as
select
    application_class, construction, velocity_mm_s, frequency_hz, natural_frequency_hz, b10_days, b10_days_lower, b10_days_upper,
    support, n_places, nullif(reason, '') as reason
from vibration_cells_frame
order by application_class, construction, velocity_mm_s, frequency_hz
