-- results.trial_log_rows: one row per place of a planned trial, as the trials log records its start: pair, arm by coin, rule.
-- Reads trial_log_rows_frame.
create or replace table results.trial_log_rows as
select
    candidate, trial, service_point, arm, construction, started_on::date as started_on, pair, pair_shares, expected_failures_12_months,
    planned_end_on::date as planned_end_on, planned_failures, early_failure_limit, expected_life_ratio, expected_life_ratio_log_sd,
    coin_seed, rule
from trial_log_rows_frame
order by candidate, pair, service_point
