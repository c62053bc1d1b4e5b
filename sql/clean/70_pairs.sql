-- clean.pairs: one row per installation: the removal that closed it, or the day on which another
-- hose went in although no removal was logged, or neither while it is in service. Numbered in the
-- order of place, day and walk: only irregular points have two on one day.
-- Reads clean.steps, clean.irregular_points, clean.walk.
create or replace table clean.pairs as
with regular as (
    select
        point_no, row_no as installation_no, happened_on as installed_on,
        case when kind_after = 1 then row_no_after end as removal_no,
        case when kind_after = 1 then day_after end as removed_on,
        case when kind_after = 0 then row_no_after end as next_installation_no,
        case when kind_after = 0 then day_after end as replaced_on, step_tag as tag,
        n_installed as stay_no
    from clean.steps
    anti join clean.irregular_points using (point_no)
    where kind = 0
),

first_stays as (
    select point_no, min(n_installed) as stay_no
    from clean.steps
    semi join clean.irregular_points using (point_no)
    where kind = 0
    group by point_no
),

installed as (
    select
        point_no, run, row_no, pair_no is null as is_alone, happened_on, hose_id,
        lead(happened_on) over in_order as replaced_on, lead(row_no) over in_order as next_no
    from clean.walk
    where kind = 0
    window in_order as (partition by point_no order by run)
),

candidates as (
    select
        i.row_no as installation_no, w.row_no as removal_no, w.happened_on, w.hose_id,
        lag(i.row_no) over (partition by w.point_no order by w.run, w.position)
            is distinct from i.row_no as is_first
    from installed as i
    join clean.walk as w on w.point_no = i.point_no and w.run = i.run and w.kind = 1
    where case when i.is_alone then w.pair_no is null and coalesce(i.hose_id = w.hose_id, true)
        else w.pair_no = i.row_no end
),

irregular as (
    select
        i.point_no, i.row_no as installation_no, i.happened_on as installed_on, c.removal_no,
        c.happened_on as removed_on,
        case when c.removal_no is null then i.next_no end as next_installation_no,
        case when c.removal_no is null then i.replaced_on end as replaced_on,
        case when coalesce(i.hose_id, c.hose_id) is not null
            then hash(coalesce(i.hose_id, c.hose_id)) end as tag,
        f.stay_no + i.run - 1 as stay_no
    from installed as i
    join first_stays as f using (point_no)
    left join candidates as c on c.installation_no = i.row_no and c.is_first
)

select
    point_no, installation_no, removal_no, installed_on, removed_on, tag, replaced_on,
    next_installation_no, stay_no
from (from regular union all by name from irregular)
