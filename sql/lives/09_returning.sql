-- lives.returning: one row per installation of a hose that was there before, by its tag, or that was
-- not new by its own row. Reads clean.pairs, clean.seen_again, clean.irregular_points,
-- clean.installations_cells.
create or replace table lives.returning as
with stated as (
    select row_no, age_at_installation
    from clean.installations_cells
    where age_at_installation is not null
),

-- At regular points a pair has the tag of its step; the others are few.
may_return as (
    select tag from clean.seen_again
    union all
    select tag from clean.pairs semi join clean.irregular_points using (point_no)
),

seen_again as (
    select tag from clean.pairs
    where tag in (select tag from may_return) group by tag having count(*) > 1
)

select p.*, s.age_at_installation
from clean.pairs as p
left join stated as s on s.row_no = p.installation_no
where s.row_no is not null or p.tag in (select tag from seen_again)
