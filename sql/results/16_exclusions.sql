-- results.exclusions: one row per reason for which lives stay out of the fits.
-- Reads lives.lives, lives.orphans.
create or replace table results.exclusions as
select exclusion, count(*) as n_lives
from (
    select exclusion from lives.lives where not is_fitted
    union all
    select 'removal without a known installation: no age' from lives.orphans
)
group by exclusion
order by exclusion
