-- lives.concluded: one row per closed stay for which an examination concluded a mechanism; the
-- latest one counts. Reads clean.teardowns, clean.points, clean.pairs,
-- seeds.mechanisms.
create or replace table lives.concluded as
with told as (
    select
        t.row_no, hash(t.hose_id) as tag, t.hose_id is not null as is_tagged, p.point_no,
        t.removed_on, t.examined_on, coalesce(m.mechanism, t.value) as mechanism
    from clean.teardowns as t
    left join clean.points as p using (service_point)
    left join seeds.mechanisms as m on lower(t.value) in (m.mechanism, lower(m.name))
    where lower(t.finding) = 'mechanism' and t.value is not null
),

by_tag as (
    select t.row_no, t.examined_on, t.mechanism, p.installation_no, p.removed_on
    from told as t
    join clean.pairs as p on t.is_tagged and p.tag = t.tag and p.removed_on <= t.examined_on
    where coalesce(p.removed_on = t.removed_on, true) and coalesce(p.point_no = t.point_no, true)
),

by_place as (
    select t.row_no, t.examined_on, t.mechanism, p.installation_no, p.removed_on
    from told as t
    join clean.pairs as p on p.point_no = t.point_no and p.removed_on = t.removed_on
    where not t.is_tagged or coalesce(p.tag = t.tag, true)
),

latest_stay as (
    select *, row_number() over (
        partition by row_no order by removed_on desc, installation_no desc) as nth
    from (select * from by_tag union select * from by_place)
),

latest_word as (
    select *, row_number() over (
        partition by installation_no order by examined_on desc, mechanism, row_no) as nth_word
    from latest_stay
    where nth = 1
)

select installation_no, mechanism, examined_on
from latest_word
where nth_word = 1
order by installation_no
