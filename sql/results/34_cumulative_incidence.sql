-- results.cumulative_incidence: one row per cell, mechanism and age: chance of having failed by it, the others competing.
-- Reads cumulative_incidence_frame.
create or replace table results.cumulative_incidence as
select application_class, construction, mechanism, age_days, probability
from cumulative_incidence_frame
order by application_class, construction, mechanism, age_days
