-- results.place_totals: one row with what the page of all places says of them together, and the ends of its scales.
-- Reads results.place_list.
create or replace table results.place_totals as
select
    count(*) as n_places,
    count(*) filter (where is_failure_prone) as n_faster,
    count(*) filter (where hose_id is null) as n_without_hose,
    count(*) filter (where expected_cost is null) as n_without_cost,
    sum(expected_cost order by place_no) as cost,
    sum(expected_cost order by place_no) filter (where is_failure_prone) as faster_cost,
    least(max(expected_cost_upper), 2 * max(expected_cost)) as cost_scale,
    max(failure_probability_90_days_upper) as chance_scale
from results.place_list
order by n_places
