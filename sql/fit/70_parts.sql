-- fit.parts: one row per part number now in service: its price, lead time, stock, and the places that use it.
-- Reads fit.places, clean.parts, clean.stock.
create or replace table fit.parts as
with used as (
    select
        part_number, count(*) as n_places, mode(construction order by construction) as construction,
        list_sort(list_distinct(flatten(list(hazards order by service_point)))) as hazards,
        max(downtime_cost_per_hour)::double as downtime_cost_per_hour, mode(dn order by dn) as dn
    from fit.places
    where part_number is not null
    group by part_number
),

counted as (
    select part_number, max(as_of) as as_of from clean.stock where as_of <= $as_of::date group by part_number
),

held as (
    select s.part_number, sum(s.on_hand)::integer as on_hand, sum(coalesce(s.on_order, 0))::integer as on_order
    from clean.stock as s
    join counted using (part_number, as_of)
    group by s.part_number
)

select
    u.part_number, coalesce(p.construction, u.construction) as construction, coalesce(p.dn, u.dn) as dn, u.n_places, u.hazards,
    u.downtime_cost_per_hour, p.unit_price::double as unit_price, p.lead_time_days::double as lead_time_days,
    p.lead_time_sd_days::double as lead_time_sd_days, coalesce(p.minimum_order, 1)::integer as minimum_order, h.on_hand, h.on_order
from used as u
left join clean.parts as p using (part_number)
left join held as h using (part_number)
order by u.part_number
