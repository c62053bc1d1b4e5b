-- results.spares_budget: one row per number of months ahead: what the parts used by then cost, all parts together.
-- Reads spares_budget_frame.
create or replace table results.spares_budget as
select
    month::date as month, n_months::integer as n_months, mean::double as mean, lower::double as lower, p50::double as p50,
    p90::double as p90, upper::double as upper, n_parts::integer as n_parts, n_without_price::integer as n_without_price
from spares_budget_frame
order by n_months
