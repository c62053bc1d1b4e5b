-- clean.unpaired: one row per removal that no installation goes with, why, and the installation
-- that speaks against it. Reads clean.seen_too_early, clean.tag_pairs, clean.walk, clean.pairs,
-- clean.steps, clean.irregular_points.
create or replace table clean.unpaired as
with closing as (
    select removal_no from clean.pairs semi join clean.irregular_points using (point_no)
    where removal_no is not null
),

alone as (
    select point_no, run, row_no, hose_id, happened_on, position
    from clean.walk
    where kind = 1 and row_no not in (select removal_no from closing)
),

installed as (
    select w.point_no, w.run, w.row_no, w.hose_id, w.happened_on, p.removal_no, r.position as until
    from clean.walk as w
    join clean.pairs as p on p.installation_no = w.row_no
    left join clean.walk as r on r.kind = 1 and r.row_no = p.removal_no
    where w.kind = 0
),

same_tag as (
    select
        a.row_no,
        min(i.happened_on) as first_on,
        arg_min(i.row_no, (i.happened_on, i.run)) filter (where i.happened_on > a.happened_on)
            as installation_no,
        arg_min(i.removal_no is null, (i.happened_on, i.run))
            filter (where i.happened_on > a.happened_on) as stays_open
    from alone as a
    join installed as i on i.point_no = a.point_no and i.hose_id = a.hose_id
    group by a.row_no
),

judged as (
    select
        a.row_no as removal_no, case
            when t.first_on > a.happened_on and t.stays_open then 'removed before installed'
            when i.hose_id <> a.hose_id and coalesce(i.until > a.position, true) then 'tag mismatch'
            else 'removal without installation'
        end as cause, case
            when t.first_on > a.happened_on and t.stays_open then t.installation_no
            when i.hose_id <> a.hose_id and coalesce(i.until > a.position, true) then i.row_no
        end as installation_no
    from alone as a
    left join installed as i on i.point_no = a.point_no and i.run = a.run
    left join same_tag as t on t.row_no = a.row_no
)

select removal_no, cause, installation_no from judged
union all
select row_no, 'removal without installation', null
from clean.steps
anti join clean.irregular_points using (point_no)
where is_alone
union all
select removal_no, 'overlap', installation_no from clean.tag_pairs where is_overlap
union all
select row_no, 'seen before installed', null from clean.seen_too_early
