-- results.fits: one row per application class, construction and mechanism; 'all' = any failure counts.
-- Reads fits_frame (estimates).
create or replace table results.fits as
select
    application_class, construction, mechanism, n_lives::integer as n_lives, n_failures::integer as n_failures,
    n_intervals::integer as n_intervals, n_suspensions::integer as n_suspensions, n_unknown::integer as n_unknown, status, note,
    shape, shape_lower, shape_upper, characteristic_life_days, characteristic_life_days_lower, characteristic_life_days_upper,
    b10_days, b10_days_lower, b10_days_upper, b10_days_if_unknown_failed, log_likelihood, pooled_shape, pooled_shape_lower, pooled_shape_upper,
    pooled_characteristic_life_days, pooled_characteristic_life_days_lower, pooled_characteristic_life_days_upper,
    pooled_b10_days, pooled_b10_days_lower, pooled_b10_days_upper, own_data_share, longest_life_days, mean_life_days,
    failures_expected, failures_expected_lower, failures_expected_upper, expected_p_value
from fits_frame
order by application_class, construction, mechanism
