-- fit.examined: one row per row of the teardown log, with the stay that it followed (NULL without one) and the hose it is about.
-- Reads clean.teardowns, lives.examined_stays, lives.stays.
create or replace table fit.examined as
select
    t.row_no, t.examined_on, lower(t.finding) as finding, lower(t.value) as value, s.stay_id, l.installation_no,
    coalesce(s.hose_id, t.hose_id) as hose_id, coalesce(s.service_point, t.service_point) as service_point,
    coalesce(s.removed_on, t.removed_on) as removed_on,
    dense_rank() over (order by s.stay_id nulls last, coalesce(s.hose_id, t.hose_id), coalesce(s.service_point, t.service_point),
        coalesce(s.removed_on, t.removed_on)) - 1 as teardown
from clean.teardowns as t
left join lives.examined_stays as l using (row_no)
left join lives.stays as s using (installation_no)
order by t.row_no
