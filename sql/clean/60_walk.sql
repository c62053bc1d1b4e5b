-- clean.walk: one row per event of an irregular point in the order in which its day must have
-- gone, numbered within the installation that it follows. Removals that overlap are left out.
-- Reads clean.events, clean.seen_too_early, clean.irregular_points, clean.tag_pairs.
create or replace table clean.walk as
with mates as (
    select installation_no, removal_no, installed_on, removed_on
    from clean.tag_pairs
    where nth_removal = 1 and not is_overlap
),

possible as (
    select
        e.point_no, e.happened_on, e.kind, e.hose_id, e.cells_hash, e.row_no,
        coalesce(i.installation_no, r.installation_no) as pair_no, case
        when coalesce(i.installation_no, r.installation_no) is null then 'alone'
        when coalesce(i.installed_on, r.installed_on) = coalesce(i.removed_on, r.removed_on)
            then 'same day'
        when e.kind = 0 then 'goes in'
        else 'comes out'
        end as part, i.removed_on as until_on
    from clean.events as e
    semi join clean.irregular_points using (point_no)
    left join mates as i on e.kind = 0 and e.row_no = i.installation_no
    left join mates as r on e.kind = 1 and e.row_no = r.removal_no
    where e.kind = 0 or (
        e.row_no not in (select row_no from clean.seen_too_early)
        and e.row_no not in (select removal_no from clean.tag_pairs where is_overlap))
),

spanned as (
    select *, kind = 1 and part = 'alone' and coalesce(max(until_on) over (
        partition by point_no order by happened_on
        range between unbounded preceding and interval 1 day preceding) > happened_on, false)
        as is_within_stay
    from possible
),

days as (
    select
        *,
        bool_or(part = 'goes in') over one_day as has_entrant,
        bool_or(part = 'comes out') over one_day as has_leaver,
        sum(case when part = 'alone' and not is_within_stay then 1 - 2 * kind else 0 end)
            over one_day as net
    from spanned
    window one_day as (partition by point_no, happened_on)
),

occupied as (
    select *, not has_leaver and coalesce(last_value(case
        when has_entrant then true
        when has_leaver then net > 0
        when net <> 0 then net > 0
        end ignore nulls) over (
        partition by point_no order by happened_on
        range between unbounded preceding and interval 1 day preceding), false) as is_occupied
    from days
),

numbered as (
    select *, row_number() over (
        partition by point_no, happened_on, kind, part
        order by hose_id nulls first, cells_hash, row_no) as nth
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
    count(*) filter (where kind = 0) over (
        in_order rows between unbounded preceding and current row) as run
from ordered
window in_order as (
    partition by point_no order by happened_on, step, hose_id, pair_no, kind, cells_hash, row_no)
