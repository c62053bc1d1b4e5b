-- results.clock_curves: one row per fit by a clock of the meters and age in its unit, with the share still running by the hoses
-- of the kind alone. Reads clock_curves_frame (points of curves).
create or replace table results.clock_curves as
select clock, application_class, construction, mechanism, age, survival, survival_lower, survival_upper
from clock_curves_frame
order by clock, application_class, construction, mechanism, age
