-- Faulty rows: scores that are no number, shares outside 0 to 1, values outside their own range, or ranges of nothing.
select basis, scope, horizon_months, method, measure, band, value, lower, upper
from results.track_scores
where isnan(value) or isnan(lower) or isnan(upper) or (lower is null) <> (upper is null) or lower > upper
    or (measure in ('coverage_50', 'coverage_90', 'nearer', 'chance_band', 'flag_faster', 'brier') and value not between 0 and 1)
    or (measure in ('crps', 'pinball') and value < 0) or n_forecasts < 1
order by basis, scope, horizon_months, method, measure, band
