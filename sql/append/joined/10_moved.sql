-- append.moved: one row per service point: by how much the numbers of its stays move because places
-- before it have more stays now. Those of touched places are numbered among themselves so far.
-- Reads append.touched, base.place_stays, lives.stays_part.
create or replace table append.moved as
with again as (
    select point_no, count(*) as n_stays, min(stay_id) - 1 as n_before
    from lives.stays_part
    group by point_no
),

more as (
    select
        point_no, p.n_before - coalesce(a.n_before, 0) as shift,
        sum(coalesce(a.n_stays, 0) - p.n_stays) over (order by point_no) as n_more
    from append.touched as t
    join base.place_stays as p using (point_no)
    left join again as a using (point_no)
),

before as (
    select point_no, n_more, shift + coalesce(lag(n_more) over (order by point_no), 0) as shift
    from more
    union all
    select 0, 0, 0
)

-- A place that is not touched moves by what the last touched one before it has more.
select
    p.point_no, p.retired_on, p.point_no = b.point_no as is_touched,
    case when p.point_no = b.point_no then b.shift else b.n_more end::bigint as shift
from base.place_stays as p
asof join before as b on p.point_no >= b.point_no
