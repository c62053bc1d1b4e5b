-- results.trial_candidates: one row per service point where a side-by-side trial would pay, best first.
-- Reads trial_candidates_frame.
create or replace table results.trial_candidates as
select
    rank::integer as rank, service_point, mate, mechanism, expected_failures_12_months, expected_cost, present_construction,
    flexible_construction, flexible_reason, stiff_construction, stiff_reason, stiffness_ratio, mass_ratio,
    months_to_ten_failures, reason, cautions
from trial_candidates_frame
order by rank
