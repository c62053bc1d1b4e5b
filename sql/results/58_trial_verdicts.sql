-- results.trial_verdicts: one row per decided trial, class and construction: adopted or left out, as candidates go by it.
-- Reads trial_verdicts_frame.
create or replace table results.trial_verdicts as
select trial, application_class, construction, is_adopted, decision, decided_on::date as decided_on
from trial_verdicts_frame
order by trial, application_class, construction, decision
