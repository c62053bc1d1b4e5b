-- Faulty rows: ranked figures outside their own range, or no number where a number is promised.
select service_point, expected_failures, expected_failures_lower, expected_failures_upper, probability_worst_ten
from results.ranking
where isnan(expected_failures) or isnan(expected_cost) or expected_failures < 0
    or expected_failures_lower > expected_failures_upper or expected_cost_lower > expected_cost_upper
    or probability_worst_ten not between 0 and 1 or failure_probability_90_days not between 0 and 1
order by service_point
