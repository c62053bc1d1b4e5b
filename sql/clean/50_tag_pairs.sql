-- clean.tag_pairs: one row per removal at an irregular point that follows an installation of the
-- same tag there: the first one closes it, unless another hose went in between (an overlap). All
-- windows are parted by place alone, and tell by their order what stands beside each other: each
-- part has its cost, and a place may have thousands of tags.
-- Reads clean.irregular_events, clean.seen_too_early.
create or replace table clean.tag_pairs as
with possible as (
    select
        point_no, happened_on, kind, hose_id, cells_hash, row_no,
        min(happened_on) filter (where kind = 0) over (
            partition by point_no order by happened_on
            range between interval 1 day following and unbounded following) as replaced_on
    from clean.irregular_events
    where kind = 0 or row_no not in (select row_no from clean.seen_too_early)
),

balance as (
    select *, sum(1 - 2 * kind) over (
        partition by point_no order by hose_id, happened_on
        groups between current row and current row) as net
    from possible
    where hose_id is not null
),

-- What the last day before left behind, if that was of the same tag.
numbered as (
    select *, coalesce(last_value(case when net <> 0 then net > 0 end ignore nulls) over days_before
        and last_value(case when net <> 0 then hose_id end ignore nulls) over days_before = hose_id,
        false) as is_occupied, 1 + row_number() over (
            partition by point_no order by hose_id, happened_on, kind, cells_hash, row_no)
        - rank() over (partition by point_no order by hose_id, happened_on, kind) as nth
    from balance
    window days_before as (
        partition by point_no order by hose_id, happened_on
        groups between unbounded preceding and 1 preceding)
),

ordered as (
    select *, row_number() over (
        partition by point_no order by hose_id, happened_on,
            2 * nth + case when is_occupied then 1 - kind else kind end) as position
    from numbered
),

-- Each event beside the last installation up to it, which may be that of another tag.
followed as (
    select *, last_value(case when kind = 0 then {'hose_id': hose_id, 'row_no': row_no,
        'day': happened_on, 'replaced_on': replaced_on, 'position': position} end ignore nulls)
        over (partition by point_no order by position
            rows between unbounded preceding and current row) as put_in
    from ordered
),

closing as (
    select
        point_no, put_in.row_no as installation_no, row_no as removal_no,
        put_in.day as installed_on, happened_on as removed_on, hose_id, cells_hash,
        position - put_in.position as nth_removal,
        coalesce(put_in.replaced_on < happened_on, false) as is_late,
        nth_removal = 1 and installed_on < removed_on and not is_late as is_plain
    from followed
    where kind = 1 and put_in.hose_id = hose_id
),

judged as (
    select *, nth_removal = 1 and (is_late or is_plain and coalesce(
        lead(installed_on) over in_order = installed_on and lead(is_plain) over in_order, false))
        as is_overlapping
    from closing
    window in_order as (
        partition by point_no
        order by installed_on, is_plain, removed_on, hose_id, cells_hash, removal_no)
)

select
    point_no, installation_no, removal_no, installed_on, removed_on, hose_id, nth_removal,
    bool_or(is_overlapping) over (partition by point_no order by installation_no
        groups between current row and current row) as is_overlap
from judged
order by removal_no
