-- results.trial_states: one row per registered trial: where test, choice and safety stop stand, and the rule fixed beforehand.
-- Reads trial_states_frame.
create or replace table results.trial_states as
select
    trial, application_class, first_arm, second_arm, first_construction, second_construction, started_on::date as started_on,
    ended_on::date as ended_on, planned_end_on::date as planned_end_on, decision, is_running, n_pairs::integer as n_pairs,
    n_places::integer as n_places, n_unpaired::integer as n_unpaired, is_registered, is_hazardous, first_hoses::integer as
    first_hoses, second_hoses::integer as second_hoses, first_days, second_days, first_failures, second_failures, first_expected,
    second_expected, first_early, second_early, early_failure_limit, stopped_arm, planned_failures, n_looks::integer as n_looks,
    last_look_on::date as last_look_on, next_look_on::date as next_look_on, statistic, boundary, error_spent, claimed_on::date as
    claimed_on, life_ratio, life_ratio_lower, life_ratio_upper, second_longer_probability, treated_life_ratio,
    treated_life_ratio_lower, treated_life_ratio_upper, unknown_failed_life_ratio, n_unknown_reason::integer as n_unknown_reason,
    n_misfitted::integer as n_misfitted, coin_seed, state, words, warnings, rule
from trial_states_frame
order by trial
