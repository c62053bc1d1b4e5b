-- results.spares: one row per part in service: demand by failures and planned changes, the stock that meets the service level, what to order.
-- Reads spares_frame, fit.price_days.
create or replace table results.spares as
select
    part_number, construction, dn::integer as dn, live_length_mm, end_a, end_b, n_places::integer as n_places,
    n_failures::integer as n_failures, n_suspensions::integer as n_suspensions,
    mean_3_months, lower_3_months, upper_3_months, stock_3_months::integer as stock_3_months,
    mean_6_months, lower_6_months, upper_6_months, stock_6_months::integer as stock_6_months,
    mean_12_months, lower_12_months, upper_12_months, stock_12_months::integer as stock_12_months,
    mean, stock_level::integer as stock_level, reorder_point::integer as reorder_point, order_now::integer as order_now,
    minimum_order::integer as minimum_order, on_hand::integer as on_hand, on_order::integer as on_order,
    stock_counted_on::date as stock_counted_on, next_due_on::date as next_due_on, shortage_probability, days_covered::integer as days_covered, overstock::integer as overstock, service_level, service_level_reason,
    level_met, share_served, stock_level_if_lives_certain::integer as stock_level_if_lives_certain, shelf_life_days,
    shelf_cap::integer as shelf_cap, lead_time_days, lead_time_days_upper, is_lead_time_recorded, planned_12_months, unit_price,
    case when unit_price is not null then d.price_on end as price_on,
    budget_12_months, budget_12_months_lower, budget_12_months_upper, budget_12_months_p50, budget_12_months_p90, reason
from spares_frame
left join fit.price_days as d using (part_number)
order by part_number
