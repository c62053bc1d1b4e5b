-- lives.stays_after_retirement: one row per stay that began at a place already retired.
-- Reads lives.stays, clean.points.
create or replace table lives.stays_after_retirement as
select
    'installed after retirement' as finding, s.service_point, s.hose_id,
    s.installation_load_id as load_id, s.installation_row as source_row,
    s.installed_on as happened_on, 'The place was retired on ' || p.retired_on || '.' as detail
from lives.stays as s
join (from clean.points where retired_on is not null) as p using (point_no)
where p.retired_on < s.installed_on
