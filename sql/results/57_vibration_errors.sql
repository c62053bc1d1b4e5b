-- results.vibration_errors: one row per error of a reading that may hold: the exponent of the fleet under it.
-- Reads vibration_errors_frame.
create or replace table results.vibration_errors as
select error_sd, is_estimated, exponent, exponent_lower, exponent_upper
from vibration_errors_frame
order by error_sd
