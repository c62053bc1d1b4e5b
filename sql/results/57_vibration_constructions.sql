-- results.vibration_constructions: one row per construction used where it vibrates: how its life falls with velocity.
-- Reads vibration_constructions_frame.
create or replace table results.vibration_constructions as
select
    construction, n_lives, n_failures, n_unknown_failures, n_places, lowest_mm_s, highest_mm_s, exponent, exponent_lower,
    exponent_upper, shape, shape_lower, shape_upper, misfit_p_value, is_shown, reason
from vibration_constructions_frame
order by construction
