-- results.ranking: one row per service point, in order of expected cost over the next twelve months.
-- Reads ranking_frame.
create or replace table results.ranking as
select
    rank::integer as rank, service_point, expected_failures, expected_failures_lower, expected_failures_upper,
    expected_cost, expected_cost_lower, expected_cost_upper, probability_worst_ten, observed_failures::integer as observed_failures,
    failures_expected_so_far, relative_rate, relative_rate_lower, relative_rate_upper, n_peers::integer as n_peers,
    is_failure_prone, reason, next_step, next_step_reason, failure_probability_90_days, failure_probability_90_days_lower,
    failure_probability_90_days_upper, cost_per_failure, cost_origin, cost_first_on::date as cost_first_on,
    cost_last_on::date as cost_last_on, is_tied_with_first, excess_cost
from ranking_frame
order by rank
