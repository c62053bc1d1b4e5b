-- results.life_comparisons: one row per kind of hose, other kind sharing its class or construction, and mechanism; both ways round.
-- Reads life_comparisons_frame (each pair once).
create or replace table results.life_comparisons as
with mirrored as (
    select
        other_application_class as application_class, other_construction as construction, application_class as other_application_class,
        construction as other_construction, mechanism, other_n_failures as n_failures, other_n_suspensions as n_suspensions,
        n_failures as other_n_failures, n_suspensions as other_n_suspensions, 1 / b10_ratio as b10_ratio,
        1 / b10_ratio_upper as b10_ratio_lower, 1 / b10_ratio_lower as b10_ratio_upper,
        1 - longer_b10_probability as longer_b10_probability, 1 / characteristic_life_ratio as characteristic_life_ratio,
        1 / characteristic_life_ratio_upper as characteristic_life_ratio_lower,
        1 / characteristic_life_ratio_lower as characteristic_life_ratio_upper,
        1 - longer_characteristic_life_probability as longer_characteristic_life_probability, 1 / shape_ratio as shape_ratio,
        1 / shape_ratio_upper as shape_ratio_lower, 1 / shape_ratio_lower as shape_ratio_upper, shape_p_value, life_p_value,
        law_p_value, log_rank_p_value, log_rank_early_p_value, log_rank_late_p_value
    from life_comparisons_frame
),

both_ways as (
    select * from life_comparisons_frame
    union all by name
    select * from mirrored
)

select
    application_class, construction, other_application_class, other_construction, mechanism, n_failures::integer as n_failures,
    n_suspensions::integer as n_suspensions, other_n_failures::integer as other_n_failures,
    other_n_suspensions::integer as other_n_suspensions, b10_ratio, b10_ratio_lower, b10_ratio_upper, longer_b10_probability,
    characteristic_life_ratio, characteristic_life_ratio_lower, characteristic_life_ratio_upper,
    longer_characteristic_life_probability, shape_ratio, shape_ratio_lower, shape_ratio_upper, shape_p_value, life_p_value,
    law_p_value, log_rank_p_value, log_rank_early_p_value, log_rank_late_p_value
from both_ways
order by application_class, construction, other_application_class, other_construction, mechanism
