-- results.countermeasures: one row per thing to try against a mechanism, with its side effects; suggestions for a qualified person.
-- Reads seeds.countermeasures.
create or replace table results.countermeasures as
select mechanism, countermeasure, why, trial_value, side_effects, source, status
from seeds.countermeasures
order by mechanism, countermeasure
