-- Faulty rows: parts to order that are not on the order list or with another number, budgets that fall or are out of order.
select coalesce(s.part_number, o.part_number) as name, 'order' as fault
from (select part_number, order_now from results.spares where order_now > 0) as s
full join results.order_list as o using (part_number)
where s.order_now is distinct from o.quantity or o.why is null or o.data_date is null
    or o.needed_by < o.data_date
union all
select n_months::varchar, 'budget'
from (select *, lag(mean) over (order by n_months) as before from results.spares_budget)
where not (lower <= p50 and p50 <= p90 and p90 <= upper) or mean < before
union all
select part_number || ' / ' || stand_in, 'stand-in'
from results.spares_stand_ins
where part_number = stand_in or n_places_met > n_places
    or stock_level_with_stand_in is not null and (not is_approved or n_places_met < n_places)
order by 1, 2
