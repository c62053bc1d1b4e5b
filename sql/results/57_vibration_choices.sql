-- results.vibration_choices: one row per place and other construction: chance that it outlasts the present hose there, or why none is given.
-- Reads vibration_choices_frame.
create or replace table results.vibration_choices as
select
    service_point, present_construction, construction, chance, next_chance, life_ratio, life_ratio_lower, life_ratio_upper,
    n_common_places, n_failures, nullif(reason, '') as reason
from vibration_choices_frame
order by service_point, construction
