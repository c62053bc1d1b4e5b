-- results.clock_fits: one row per clock of the meters, application class, construction and mechanism; 'all' = any failure counts.
-- In the unit of the clock (hours, cycles), by the hoses of the kind alone; with the fitted lives left out for want of readings.
-- Reads clock_fits_frame (estimates).
create or replace table results.clock_fits as
select
    clock, application_class, construction, mechanism, n_lives::integer as n_lives, n_failures::integer as n_failures,
    n_intervals::integer as n_intervals, n_suspensions::integer as n_suspensions, n_unknown::integer as n_unknown,
    n_cut::integer as n_cut, n_cut_failures::integer as n_cut_failures, n_left_out::integer as n_left_out, n_left_out_failures::integer as n_left_out_failures,
    n_without_meter::integer as n_without_meter, n_not_from_start::integer as n_not_from_start, n_not_run::integer as n_not_run,
    status, note, shape, shape_lower, shape_upper, characteristic_life, characteristic_life_lower, characteristic_life_upper,
    b10, b10_lower, b10_upper, log_likelihood, mean_life, longest_life
from clock_fits_frame
order by clock, application_class, construction, mechanism
