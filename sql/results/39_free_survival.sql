-- results.free_survival: one row per fit with failures found between two looks and span of age that holds failures: their share.
-- Reads free_survival_frame.
create or replace table results.free_survival as
select
    application_class, construction, mechanism, start_days, case when not isinf(end_days) then end_days end as end_days, failed_share,
    survival_before, case when not isinf(end_days) then survival_after end as survival_after, is_settled
from free_survival_frame
order by application_class, construction, mechanism, start_days
