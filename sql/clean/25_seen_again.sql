-- clean.seen_again: one row per tag that stands in more than one step. Reads clean.steps.
create or replace table clean.seen_again as
select step_tag as tag
from clean.steps
where step_tag is not null
group by step_tag
having count(*) > 1
order by step_tag
