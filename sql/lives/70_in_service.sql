-- lives.in_service: one row per hose that sits at a place in use on $as_of.
-- Reads lives.stays, clean.points.
create or replace table lives.in_service as
select
    s.service_point, s.hose_id, coalesce(s.construction, 'unknown') as construction, s.part_number,
    s.installed_on, s.entry_age_days + ($as_of::date - s.installed_on) as age_days,
    s.stay_id as life_id
from lives.stays as s
join clean.points as p using (point_no)
where s.removed_on is null and (
    p.retired_on is null or p.retired_on > $as_of::date or p.retired_on < s.installed_on)
order by life_id
