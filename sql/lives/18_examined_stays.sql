-- lives.examined_stays: one row per row of the teardown log whose stay is known: the latest stay that the tag or the place and day
-- it names can mean. Reads clean.teardowns, clean.points, clean.pairs.
create or replace table lives.examined_stays as
with told as (
    select t.row_no, hash(t.hose_id) as tag, t.hose_id is not null as is_tagged, p.point_no, t.removed_on, t.examined_on
    from clean.teardowns as t
    left join clean.points as p using (service_point)
),

candidates as (
    select t.row_no, p.installation_no, p.removed_on
    from told as t
    join clean.pairs as p on t.is_tagged and p.tag = t.tag and p.removed_on <= t.examined_on
    where coalesce(p.removed_on = t.removed_on, true) and coalesce(p.point_no = t.point_no, true)
    union
    select t.row_no, p.installation_no, p.removed_on
    from told as t
    join clean.pairs as p on p.point_no = t.point_no and p.removed_on = t.removed_on
    where not t.is_tagged or coalesce(p.tag = t.tag, true)
)

select row_no, installation_no
from candidates
qualify row_number() over (partition by row_no order by removed_on desc, installation_no desc) = 1
order by row_no
