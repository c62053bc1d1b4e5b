-- results.spares: one row per part in service: demand by failures and planned changes, the stock that meets the service level, what to order.
-- Reads spares_frame.
create or replace table results.spares as
select
    part_number, construction, dn::integer as dn, n_places::integer as n_places,
    mean_3_months, lower_3_months, upper_3_months, stock_3_months::integer as stock_3_months,
    mean_6_months, lower_6_months, upper_6_months, stock_6_months::integer as stock_6_months,
    mean_12_months, lower_12_months, upper_12_months, stock_12_months::integer as stock_12_months,
    mean, stock_level::integer as stock_level, reorder_point::integer as reorder_point, order_now::integer as order_now,
    on_hand::integer as on_hand, on_order::integer as on_order, service_level, service_level_reason, lead_time_days,
    planned_12_months, unit_price, budget_12_months, budget_12_months_lower, budget_12_months_upper, reason
from spares_frame
order by part_number
