-- results.place_survival: one row per service point with a hose in service and age: share of hoses still running there.
-- Reads place_survival_frame.
create or replace table results.place_survival as
select service_point, age_days::float as age_days, survival::float as survival, survival_lower::float as survival_lower,
    survival_upper::float as survival_upper
from place_survival_frame
order by service_point, age_days
