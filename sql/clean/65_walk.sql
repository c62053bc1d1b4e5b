-- clean.walk: one row per event of an irregular point in the order in which its day must have
-- gone, numbered within the installation that it follows. A place that was occupied before the
-- day gives up its hose first, an empty one takes one in first. Reads clean.walk_parts.
create or replace table clean.walk as
with days as (
    select
        point_no, happened_on,
        bool_or(part = 'goes in') as has_entrant,
        bool_or(part = 'comes out') as has_leaver,
        sum(case when part = 'alone' and not is_within_stay then 1 - 2 * kind else 0 end) as net
    from clean.walk_parts
    group by point_no, happened_on
),

states as (  -- by day, not by event: thousands of events on one day would be looked at in pairs
    select point_no, happened_on, not has_leaver and coalesce(last_value(case
        when has_entrant then true
        when has_leaver then net > 0
        when net <> 0 then net > 0
        end ignore nulls) over (
        partition by point_no order by happened_on
        rows between unbounded preceding and 1 preceding), false) as is_occupied
    from days
),

occupied as (
    select p.*, s.is_occupied
    from clean.walk_parts as p
    join states as s on s.point_no = p.point_no and s.happened_on = p.happened_on
),

numbered as (
    select
        *,
        1 + row_number() over (
            partition by point_no
            order by happened_on, kind, part, hose_id nulls first, cells_hash, row_no)
        - rank() over (partition by point_no order by happened_on, kind, part) as nth,
        case when pair_no is not null then max(case when kind = 0 then cells_hash end) over (
            partition by point_no order by pair_no
            groups between current row and current row) end as pair_hash
    from occupied
),

ordered as (
    select *, case
        when part = 'comes out' then 0
        when part = 'same day' then 2
        when part = 'goes in' then 1000000000
        when is_occupied and kind = 1 and nth = 1 then 1
        when is_occupied and kind = 1 then 2 * nth
        when kind = 1 then 2 * nth + 2
        else 2 * nth + 1
        end as step
    from numbered
)

select
    point_no, kind, happened_on, hose_id, row_no, pair_no, is_within_stay,
    row_number() over in_order as position,
    count(case when kind = 0 then 1 end) over (  -- with a filter each row would count anew
        in_order rows between unbounded preceding and current row) as run
from ordered
window in_order as (
    partition by point_no
    order by happened_on, step, hose_id, pair_hash, pair_no, kind, cells_hash, row_no)
