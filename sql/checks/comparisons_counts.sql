-- Faulty rows: comparisons that count other failures or suspensions than the fits they compare.
select c.application_class, c.construction, c.mechanism, c.n_failures, f.n_failures as n_failures_in_fit
from results.life_comparisons as c
left join results.fits as f using (application_class, construction, mechanism)
where f.n_failures is distinct from c.n_failures or f.n_suspensions is distinct from c.n_suspensions
order by c.application_class, c.construction, c.mechanism, c.other_application_class, c.other_construction
