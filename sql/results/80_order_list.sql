-- results.order_list: one row per part to order now, with all that a question about the order would ask for.
-- Reads results.spares, results.edition, seeds.method_notes.
create or replace table results.order_list as
select
    s.part_number, s.order_now as quantity, s.construction, s.dn, s.live_length_mm, s.end_a, s.end_b, s.unit_price,
    (s.order_now * s.unit_price)::decimal(18, 2) as order_cost, e.currency, s.reason as why, s.stock_level, s.reorder_point, s.on_hand,
    s.on_order, s.stock_counted_on, s.next_due_on, s.minimum_order, s.mean as demand_until_delivery, s.mean_12_months, s.lower_12_months, s.upper_12_months,
    s.planned_12_months, s.service_level, s.service_level_reason, s.lead_time_days, s.lead_time_days_upper, s.is_lead_time_recorded,
    s.shortage_probability, s.n_places, s.n_failures, s.n_suspensions, e.as_of as data_date, e.edition, m.words as method
from results.spares as s
cross join results.edition as e
left join seeds.method_notes as m on m.key = 'spares'
where s.order_now > 0
order by s.part_number
