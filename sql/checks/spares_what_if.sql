-- Faulty rows: a case as things are that differs from the table of stock, or a later delivery or a higher level that needs less.
with here as (
    select part_number, stock_level, order_now from results.spares
),

steps as (
    select
        *, lag(stock_level) over (partition by part_number, policy, is_stated_level, service_level order by lead_time_factor) as sooner,
        lag(stock_level) over (partition by part_number, policy, lead_time_factor, is_stated_level order by service_level) as lower_level
    from results.spares_what_if
)

select s.part_number, s.policy, s.lead_time_factor, s.service_level, s.stock_level
from steps as s
left join here as h using (part_number)
where h.part_number is null
    or s.policy = 'as planned' and s.lead_time_factor = 1 and s.is_stated_level
    and (s.stock_level <> h.stock_level or s.order_now is distinct from h.order_now)
    or s.stock_level < s.sooner or s.stock_level < s.lower_level
order by s.part_number, s.policy, s.lead_time_factor, s.is_stated_level, s.service_level
