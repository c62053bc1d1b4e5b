-- fit.part_details: one row per part of the register or in service: its build, its stock, what is still to come, and the lives
-- of its hoses counted. Reads clean.parts, clean.stock, fit.parts, lives.lives.
create or replace table fit.part_details as
with named as (
    select part_number from clean.parts
    union
    select part_number from fit.parts
),

registered as (
    select
        part_number, max(construction) as construction, max(dn) as dn, max(live_length_mm)::double as live_length_mm,
        max(end_a) as end_a, max(end_b) as end_b, max(shelf_life_days)::double as shelf_life_days, max(replaces) as replaces
    from clean.parts
    group by part_number
),

counted as (
    select part_number, max(as_of) as as_of from clean.stock where as_of <= $as_of::date group by part_number
),

held as (
    select
        s.part_number, sum(s.on_hand)::integer as on_hand, max(s.as_of) as counted_on,
        min(s.due_on) filter (where s.on_order > 0) as next_due_on,
        -- A delivery whose day has passed may come any day; one without a day is left open.
        list({'days': greatest(0, s.due_on - $as_of::date), 'number': s.on_order::integer} order by s.due_on, s.on_order)
            filter (where s.on_order > 0) as receipts
    from clean.stock as s
    join counted using (part_number, as_of)
    group by s.part_number
),

lived as (
    select
        part_number, count(*) filter (where kind <> 'suspended') as n_failures,
        count(*) filter (where kind = 'suspended') as n_suspensions
    from lives.lives
    where is_fitted and part_number is not null
    group by part_number
)

select
    n.part_number, coalesce(r.construction, u.construction) as construction, coalesce(r.dn, u.dn) as dn, r.live_length_mm, r.end_a,
    r.end_b, r.shelf_life_days, r.replaces, h.on_hand, h.counted_on, h.next_due_on, h.receipts,
    coalesce(l.n_failures, 0) as n_failures, coalesce(l.n_suspensions, 0) as n_suspensions, u.part_number is not null as is_in_service
from named as n
left join registered as r using (part_number)
left join fit.parts as u using (part_number)
left join held as h using (part_number)
left join lived as l using (part_number)
order by n.part_number
