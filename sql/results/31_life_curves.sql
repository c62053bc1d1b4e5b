-- results.life_curves: one row per fit and age, with the share still running by both estimates.
-- Reads life_curves_frame (points of curves).
create or replace table results.life_curves as
select
    application_class, construction, mechanism, age_days, survival, survival_lower, survival_upper,
    survival_alone, survival_alone_lower, survival_alone_upper
from life_curves_frame
order by application_class, construction, mechanism, age_days
