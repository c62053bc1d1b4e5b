-- clean.seen_too_early: one row per removal whose last_seen_good_on lies before the installation
-- that went before it, so that the hose was seen before it was there.
-- Reads clean.irregular_events.
create or replace table clean.seen_too_early as
with seen as (
    select point_no, happened_on, seen_on, row_no
    from clean.irregular_events
    where kind = 1 and seen_on is not null
),

installed as (
    select point_no, happened_on from clean.irregular_events where kind = 0
)

select seen.row_no, installed.happened_on as installed_on
from seen
asof join installed
    on seen.point_no = installed.point_no and seen.happened_on > installed.happened_on
where seen.seen_on < installed.happened_on
order by seen.row_no
