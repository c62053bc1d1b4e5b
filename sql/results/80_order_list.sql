-- results.order_list: one row per part to order now, as a buyer sends it: what, how many, by when, why; the figures behind it after that.
-- Needed by: from that day on what is here and on order keeps the service level no longer. Reads results.spares, results.edition.
create or replace table results.order_list as
select
    s.part_number, s.order_now as quantity, (e.as_of + s.days_covered)::date as needed_by, s.reason as why, s.construction, s.dn,
    s.live_length_mm, s.end_a, s.end_b, s.unit_price, (s.order_now * s.unit_price)::decimal(28, 2) as order_cost, e.currency,
    s.price_on,
    s.minimum_order, s.lead_time_days, s.lead_time_days_upper, s.is_lead_time_recorded, s.on_hand, s.on_order, s.stock_counted_on,
    s.next_due_on, s.stock_level, s.reorder_point, s.service_level, s.service_level_reason, s.shortage_probability,
    s.mean as demand_until_delivery, s.mean_12_months, s.lower_12_months, s.upper_12_months, s.planned_12_months, s.n_places,
    s.n_failures, s.n_suspensions, e.as_of as data_date, e.edition
from results.spares as s
cross join results.edition as e
where s.order_now > 0
order by s.part_number
