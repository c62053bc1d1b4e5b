-- clean.walk_parts: one row per event of an irregular point with the part that it plays there: it
-- begins or ends a stay known by tag, makes one within the day, or stands alone so far. Removals
-- that overlap are left out.
-- Reads clean.irregular_events, clean.seen_too_early, clean.tag_pairs.
create or replace table clean.walk_parts as
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
    from clean.irregular_events as e
    left join mates as i on e.kind = 0 and e.row_no = i.installation_no
    left join mates as r on e.kind = 1 and e.row_no = r.removal_no
    where e.kind = 0 or (
        e.row_no not in (select row_no from clean.seen_too_early)
        and e.row_no not in (select removal_no from clean.tag_pairs where is_overlap))
)

select
    point_no, happened_on, kind, hose_id, cells_hash, row_no, pair_no, part,
    kind = 1 and part = 'alone' and coalesce(max(until_on) over (
        partition by point_no order by happened_on
        range between unbounded preceding and interval 1 day preceding) > happened_on, false)
        as is_within_stay
from possible
