-- clean.steps: one row per event beside its neighbours at the same service point, a removal before
-- an installation of the same day; and whether anything about it needs a closer look.
-- Reads clean.events.
create or replace table clean.steps as
with neighbours as (
    select
        point_no, kind, happened_on, tag, seen_on, row_no,
        lag(kind) over in_order as kind_before, lag(kind, 2) over in_order as kind_two_before,
        lag(happened_on) over in_order as day_before,
        lead(kind) over in_order as kind_after, lead(happened_on) over in_order as day_after,
        lead(tag) over in_order as tag_after, lead(row_no) over in_order as row_no_after
    from clean.events
    window in_order as (partition by point_no order by happened_on, kind desc, row_no)
)

select
    point_no, kind, happened_on, row_no, kind_after, day_after, row_no_after,
    kind = 1 and kind_before is distinct from 0 as is_alone,
    case when kind = 0 and kind_after = 1 then coalesce(tag, tag_after)
        when kind = 0 or kind_before is distinct from 0 then tag end as step_tag,
    (day_before = happened_on and (kind_before = kind or kind_two_before is distinct from 0))
    or (kind = 0 and kind_after = 1 and tag <> tag_after)
    or (kind = 1 and kind_before = 0 and seen_on < day_before) as is_odd
from neighbours
