-- fit.examined: one row per row of the teardown log, with the stay that it followed (NULL without one) and the hose it is about.
-- Reads clean.teardowns, clean.points, clean.pairs, lives.stays.
create or replace table fit.examined as
with told as (
    select t.*, hash(t.hose_id) as tag, p.point_no
    from clean.teardowns as t
    left join clean.points as p using (service_point)
),

candidates as (
    select t.row_no, p.installation_no, p.removed_on
    from told as t
    join clean.pairs as p on t.hose_id is not null and p.tag = t.tag and p.removed_on <= t.examined_on
    where coalesce(p.removed_on = t.removed_on, true) and coalesce(p.point_no = t.point_no, true)
    union
    select t.row_no, p.installation_no, p.removed_on
    from told as t
    join clean.pairs as p on p.point_no = t.point_no and p.removed_on = t.removed_on
    where t.hose_id is null or coalesce(p.tag = t.tag, true)
),

latest as (
    select row_no, installation_no
    from candidates
    qualify row_number() over (partition by row_no order by removed_on desc, installation_no desc) = 1
)

select
    t.row_no, t.examined_on, lower(t.finding) as finding, lower(t.value) as value, s.stay_id, l.installation_no,
    coalesce(s.hose_id, t.hose_id) as hose_id, coalesce(s.service_point, t.service_point) as service_point,
    coalesce(s.removed_on, t.removed_on) as removed_on,
    dense_rank() over (order by s.stay_id nulls last, coalesce(s.hose_id, t.hose_id), coalesce(s.service_point, t.service_point),
        coalesce(s.removed_on, t.removed_on)) - 1 as teardown
from told as t
left join latest as l using (row_no)
left join lives.stays as s using (installation_no)
order by t.row_no
