-- fit.inferred_mechanisms: one row per failure without a concluded mechanism whose teardown shows one for sure.
-- Reads teardown_evidence_frame.
create or replace table fit.inferred_mechanisms as
select life_id, mechanism
from teardown_evidence_frame
where is_counted
order by life_id
