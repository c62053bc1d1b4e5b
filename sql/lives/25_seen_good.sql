-- lives.seen_good: one row per hose found failed: the last day before its removal on which an
-- inspection found it good. Reads clean.replacements, clean.inspections.
create or replace table lives.seen_good as
with found as (
    select row_no as removal_no, service_point, removed_on
    from clean.replacements
    where reason = 'found_failed' and last_seen_good_on is null
        and service_point in (select service_point from clean.inspections)
),

good as (
    select distinct service_point, inspected_on
    from clean.inspections
    where condition = 'good'
)

select found.removal_no, good.inspected_on
from found
asof join good
    on found.service_point = good.service_point and found.removed_on > good.inspected_on
order by found.removal_no
