-- results.cost_curve: one row per number of dearest places, with the share of all expected cost that they make.
-- Reads results.ranking.
create or replace table results.cost_curve as
select
    row_number() over (order by expected_cost desc, service_point) as n_places,
    sum(expected_cost) over (order by expected_cost desc, service_point rows unbounded preceding)
        / sum(expected_cost) over (order by expected_cost desc, service_point rows between unbounded preceding and unbounded following)
        as share_of_cost
from results.ranking
where expected_cost > 0
order by n_places
