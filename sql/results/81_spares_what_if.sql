-- results.spares_what_if: one row per part and assumption: stock and order at other lead times, service levels and without a plan.
-- Reads spares_what_if_frame.
create or replace table results.spares_what_if as
select
    part_number, policy, lead_time_factor, is_stated_level, service_level, lead_time_days, mean, stock_level::integer as stock_level,
    level_met, order_now::integer as order_now, order_cost, stock_value
from spares_what_if_frame
order by part_number, policy, lead_time_factor, is_stated_level, service_level
