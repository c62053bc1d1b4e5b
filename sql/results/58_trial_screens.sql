-- results.trial_screens: one row per candidate, arm and screen: what the arm is made like, and how it stands at the place.
-- Reads trial_screens_frame.
create or replace table results.trial_screens as
select service_point, arm, construction, screen, value, lower, upper, limit_value, unit, ratio, source, status
from trial_screens_frame
order by service_point, arm, construction, screen
