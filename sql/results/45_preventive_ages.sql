-- results.preventive_ages: one row per application class and construction: the age of least cost, or why none pays.
-- Reads preventive_ages_frame.
create or replace table results.preventive_ages as
select
    application_class, construction, n_failures::integer as n_failures, n_suspensions::integer as n_suspensions,
    shape, shape_lower, shape_upper, cost_per_failure, cost_per_planned_change, verdict, preventive_age_days,
    flat_from_days, flat_to_days, failing_before_probability, saving_per_year, saving_per_year_lower,
    saving_per_year_upper, saving_probability, cost_per_year, cost_per_year_on_failure, required_interval_days
from preventive_ages_frame
order by application_class, construction
