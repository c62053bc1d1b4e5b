-- clean.irregular_points: one row per service point where a day can be read in two ways, or tags
-- disagree or return: those need the full walk. Reads clean.steps.
create or replace table clean.irregular_points as
with seen_again as (
    select step_tag from clean.steps where step_tag is not null
    group by step_tag having count(*) > 1
),

back_again as (
    select point_no
    from clean.steps
    where step_tag in (select step_tag from seen_again)
    group by point_no, step_tag
    having count(*) > 1
)

select point_no from clean.steps where is_odd
union
select point_no from back_again
order by point_no
