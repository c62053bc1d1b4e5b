-- Faulty rows: cells whose fits do not count every fitted life.
with counted as (
    select application_class, construction, count(*) as n_lives, count(*) filter (where kind <> 'suspended') as n_failures
    from lives.lives
    where is_fitted
    group by application_class, construction
)

select c.application_class, c.construction, c.n_lives, f.n_lives as n_lives_in_fit, c.n_failures, f.n_failures as n_failures_in_fit
from counted as c
left join results.fits as f on f.application_class = c.application_class and f.construction = c.construction and f.mechanism = 'all'
where f.n_lives is distinct from c.n_lives or f.n_failures is distinct from c.n_failures
order by c.application_class, c.construction
