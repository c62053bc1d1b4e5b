-- results.track_scores: one row per basis, scope, span, method and measure: how good the forecasts were, with its range.
-- Reads track_scores_frame.
create or replace table results.track_scores as
select
    basis, scope, horizon_months::integer as horizon_months, method, measure, band, value, lower, upper, expected,
    n_forecasts::integer as n_forecasts, n_origins::integer as n_origins, n_windows_apart::integer as n_windows_apart, range_by
from track_scores_frame
order by basis, scope, horizon_months, method, measure, band
