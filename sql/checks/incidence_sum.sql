-- Faulty rows: ages at which the chances of having failed by the mechanisms add up to more than one.
select application_class, construction, age_days, sum(probability order by mechanism) as total
from results.cumulative_incidence
group by application_class, construction, age_days
having sum(probability order by mechanism) > 1 + 1e-6
order by application_class, construction, age_days
