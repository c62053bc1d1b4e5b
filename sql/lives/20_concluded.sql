-- lives.concluded: one row per closed stay for which an examination concluded a mechanism; the
-- latest one counts. Reads clean.teardowns, lives.examined_stays, seeds.mechanisms.
create or replace table lives.concluded as
with told as (
    select s.installation_no, t.row_no, t.examined_on, coalesce(m.mechanism, t.value) as mechanism
    from clean.teardowns as t
    join lives.examined_stays as s using (row_no)
    left join seeds.mechanisms as m on lower(t.value) in (m.mechanism, lower(m.name), m.short)
    where lower(t.finding) = 'mechanism' and t.value is not null
)

select installation_no, mechanism, examined_on
from told
qualify row_number() over (partition by installation_no order by examined_on desc, mechanism, row_no) = 1
order by installation_no
