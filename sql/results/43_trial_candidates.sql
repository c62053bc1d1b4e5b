-- results.trial_candidates: one row per group of like places where a side-by-side trial was weighed, best first.
-- Reads trial_candidates_frame.
create or replace table results.trial_candidates as
select
    rank::integer as rank, service_point, trial, mate, mechanism, expected_failures_12_months, expected_cost, present_construction,
    flexible_construction, flexible_reason, stiff_construction, stiff_reason, stiffness_ratio, mass_ratio, months_to_ten_failures,
    reason, cautions, verdict, verdict_reason, value, value_unit, value_with, value_without, n_like_places::integer as n_like_places,
    n_pairs_possible::integer as n_pairs_possible, n_pairs::integer as n_pairs, n_hoses, months::integer as months, planned_failures,
    expected_failures_trial, right_choice_probability, shown_probability, wrong_claim_probability, months_to_claim, life_ratio,
    life_ratio_lower, life_ratio_upper, life_ratio_basis, early_failure_limit, rule
from trial_candidates_frame
order by rank
