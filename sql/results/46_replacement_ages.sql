-- results.replacement_ages: one row per service point with a hose in service: the age at which to change it, or why none.
-- Reads replacement_ages_frame.
create or replace table results.replacement_ages as
select
    service_point, method, replacement_age_days, reason, verdict, preventive_age_days, flat_from_days, flat_to_days,
    failing_before_probability, saving_per_year, saving_per_year_lower, saving_per_year_upper, saving_probability,
    cost_per_year, cost_per_year_on_failure, required_interval_days, cost_per_planned_change, planned_cost_origin, cost_per_failure,
    planned_on::date as planned_on, is_overdue, shutdown_first_on::date as shutdown_first_on,
    shutdown_last_on::date as shutdown_last_on, still_running_probability, labour_h
from replacement_ages_frame
order by service_point
