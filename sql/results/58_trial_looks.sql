-- results.trial_looks: one row per registered trial and monthly look: failures, the test against its boundary, the life ratio.
-- Reads trial_looks_frame.
create or replace table results.trial_looks as
select
    trial, look_on::date as look_on, first_failures, second_failures, statistic, boundary, life_ratio, life_ratio_lower,
    life_ratio_upper, second_longer_probability
from trial_looks_frame
order by trial, look_on
