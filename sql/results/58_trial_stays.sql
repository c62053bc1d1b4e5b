-- results.trial_stays: one row per hose of a registered trial, by pair and arm; its end is the removal or the last day that counts.
-- Reads trial_stays_frame.
create or replace table results.trial_stays as
select
    trial, pair, service_point, arm, assigned_construction, construction, is_as_assigned, hose_id, installed_on::date as installed_on,
    ended_on::date as ended_on, is_over, is_failure, life_id
from trial_stays_frame
order by trial, pair, arm, installed_on, life_id
