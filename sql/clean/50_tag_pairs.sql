-- clean.tag_pairs: one row per removal at an irregular point that follows an installation of the
-- same tag there: the first one closes it, unless another hose went in between (an overlap).
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
    select *, sum(1 - 2 * kind) over (partition by point_no, hose_id, happened_on) as net
    from possible
    where hose_id is not null
),

occupied as (
    select *, coalesce(last_value(case when net <> 0 then net > 0 end ignore nulls) over (
        partition by point_no, hose_id order by happened_on
        range between unbounded preceding and interval 1 day preceding), false) as is_occupied
    from balance
),

numbered as (
    select *, row_number() over (
        partition by point_no, hose_id, happened_on, kind order by cells_hash, row_no) as nth
    from occupied
),

ordered as (
    select *, 2 * nth + case when is_occupied then 1 - kind else kind end as step
    from numbered
),

runs as (
    select *, count(*) filter (where kind = 0) over (
        partition by point_no, hose_id order by happened_on, step) as run
    from ordered
),

followed as (
    select
        point_no, hose_id, kind, happened_on as removed_on, row_no as removal_no, cells_hash,
        row_number() over in_run - 1 as nth_removal,
        first_value(row_no) over in_run as installation_no,
        first_value(happened_on) over in_run as installed_on,
        first_value(replaced_on) over in_run as replaced_on
    from runs
    where run > 0
    window in_run as (partition by point_no, hose_id, run order by happened_on, step)
),

judged as (
    select *, case
        when nth_removal > 1 then false
        when replaced_on < removed_on then true
        when installed_on = removed_on then false
        else lead(removal_no) over (
            partition by point_no, installed_on, nth_removal = 1 and installed_on < removed_on
                and not coalesce(replaced_on < removed_on, false)
            order by removed_on, hose_id, cells_hash, removal_no) is not null
        end as is_overlapping
    from followed
    where kind = 1
)

select
    point_no, installation_no, removal_no, installed_on, removed_on, hose_id, nth_removal,
    bool_or(is_overlapping) over (partition by installation_no) as is_overlap
from judged
order by removal_no
