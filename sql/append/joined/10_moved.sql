-- append.moved: one row per service point: by how much the numbers of its stays move because places
-- before it have more stays now. Those of touched places are numbered among themselves so far.
-- Reads append.touched, base.place_stays, lives.stays_part.
create or replace table append.moved as
with again as (
    select point_no, count(*) as n_stays, min(stay_id) - 1 as n_before
    from lives.stays_part
    group by point_no
),

counted as (
    select
        p.point_no, p.retired_on, t.point_no is not null as is_touched,
        case when t.point_no is not null then coalesce(a.n_stays, 0) else p.n_stays end as n_stays,
        case when t.point_no is not null then a.n_before else p.n_before end as n_before
    from base.place_stays as p
    left join append.touched as t using (point_no)
    left join again as a using (point_no)
    order by p.point_no
)

-- In the order of places already, so that the window needs none of its own.
select
    point_no, is_touched, retired_on,
    (coalesce(sum(n_stays) over (rows between unbounded preceding and 1 preceding), 0) - n_before)
        ::bigint as shift
from counted
