-- Faulty rows: month ends and spans at which the application classes together did not see the failures of the fleet.
select as_of, horizon_months, sum(observed) filter (where scope = 'fleet') as fleet,
    sum(observed) filter (where scope = 'application_class') as classes
from results.track_forecasts
where observed is not null
group by as_of, horizon_months
having fleet is distinct from classes
order by as_of, horizon_months
