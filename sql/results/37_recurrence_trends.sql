-- results.recurrence_trends: one row per class: do failures of its places come faster as the places age?
-- Reads recurrence_trends_frame.
create or replace table results.recurrence_trends as
select
    application_class, n_places::integer as n_places, n_failures::integer as n_failures, place_years, shape, shape_lower, shape_upper,
    laplace_statistic, laplace_p_value, total_log_statistic, total_log_p_value
from recurrence_trends_frame
order by application_class
