-- results.vibration_summary: one row: what the fleet as a whole tells of life under vibration, or why it tells nothing.
-- Reads vibration_summary_frame.
create or replace table results.vibration_summary as
select
    status, words, n_places, n_places_read, n_readings, n_repeats, n_lives, n_failures, n_unknown_failures, n_unknown_counted,
    n_old_at_start, n_unexplained, exponent, exponent_lower, exponent_upper, error_sd, is_error_known, place_sd, resonance,
    resonance_lower, resonance_upper, alarm, alarm_words, stiffness_within, stiffness_within_lower, stiffness_within_upper, stiffness_between,
    stiffness_between_lower, stiffness_between_upper, n_effective
from vibration_summary_frame
