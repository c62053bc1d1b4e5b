-- results.trial_sizes: one row per candidate, number of pairs and months: the chance of choosing the longer-lived arm.
-- Reads trial_sizes_frame.
create or replace table results.trial_sizes as
select service_point, n_pairs::integer as n_pairs, months::integer as months, right_choice_probability, expected_failures, is_planned
from trial_sizes_frame
order by service_point, n_pairs, months
