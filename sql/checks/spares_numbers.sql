-- Faulty rows: chances outside 0..1, a level that misses its service without a reason, orders that do not fill up to the level.
select part_number, stock_level, order_now, level_met, shortage_probability
from results.spares
where level_met not between 0 and 1 or share_served not between 0 and 1 or shortage_probability not between 0 and 1
    or (shelf_cap is null and level_met < service_level - 1e-9)
    or reorder_point <> stock_level - 1
    or (order_now > 0) <> (on_hand + coalesce(on_order, 0) < stock_level)
    or order_now > 0 and on_hand + coalesce(on_order, 0) + order_now < stock_level
    or (order_now is null) <> (on_hand is null)
    or budget_12_months_p50 > budget_12_months_p90 or (unit_price is null) <> (budget_12_months is null)
order by part_number
