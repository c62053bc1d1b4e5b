-- results.track_forecasts: one row per earlier month end, scope and span: what was forecast then, what came since.
-- Reads track_forecasts_frame.
create or replace table results.track_forecasts as
select
    as_of::date as as_of, until::date as until, basis, scope, scope_name, horizon_months::integer as horizon_months, mean,
    lower::integer as lower, upper::integer as upper, lower_50::integer as lower_50, upper_50::integer as upper_50,
    n_failed::integer as observed, pit, crps, last_year_mean, constant_rate_mean, plug_in_mean, cost_mean, cost_observed
from track_forecasts_frame
order by scope, scope_name, horizon_months, as_of
