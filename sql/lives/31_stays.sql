-- lives.stays: one row per stay of a hose at a service point, with the days between which it ended:
-- exactly, within an interval, or not yet; and the rows of the logs that begin and end it, of which
-- the number holds load, entry and row. A view: what follows from other columns is not written down.
-- Reads lives.stay_rows.
create or replace view lives.stays as
select
    stay_id, service_point, hose_id, construction, part_number, installed_on, removed_on, removal_reason,
    mechanism, last_seen_good_on, entry_age_days, part_cost, labour_cost, downtime_h, other_cost,
    is_implied, (installation_no >> 42)::integer as installation_load_id,
    installation_no & 4294967295 as installation_row,
    (removal_no >> 42)::integer as removal_load_id, removal_no & 4294967295 as removal_row, kind, entry_on,
    low_on, case when kind = 'suspended' then null when ended_on = installed_on then installed_on + 1
        else ended_on end as high_on, ended_on, point_no, installation_no, removal_no, is_tagged,
    application_class, hours_per_day
from lives.stay_rows
