-- clean.irregular_points: one row per service point where a day can be read in two ways, or tags
-- disagree or return: those need the full walk. Reads clean.steps, clean.seen_again.
create or replace table clean.irregular_points as
with back_again as (
    select point_no
    from clean.steps
    where step_tag in (select tag from clean.seen_again)
    group by point_no, step_tag
    having count(*) > 1
)

select point_no from clean.steps where is_odd
union
select point_no from back_again
order by point_no
