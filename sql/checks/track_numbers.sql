-- Faulty rows: earlier forecasts out of order, outcomes of spans that are not over, or scored forecasts without an outcome.
select as_of, scope, scope_name, horizon_months, mean, lower, upper, observed, pit
from results.track_forecasts
where isnan(mean) or mean < 0 or not (lower <= lower_50 and lower_50 <= upper_50 and upper_50 <= upper)
    or as_of >= until or (observed is not null and until > $as_of::date) or (observed is null) <> (pit is null)
    or observed < 0 or pit not between 0 and 1 or crps < 0
order by as_of, scope, scope_name, horizon_months
