-- Faulty rows: kinds whose lives by a clock of the meters, with those left out for want of readings, are not all their fitted
-- lives; and reasons for leaving out that do not add up.
select
    c.clock, c.application_class, c.construction, f.n_lives as n_fitted, c.n_lives, c.n_left_out, c.n_without_meter,
    c.n_not_from_start, c.n_not_run
from results.clock_fits as c
left join results.fits as f on f.application_class = c.application_class and f.construction = c.construction and f.mechanism = 'all'
where c.mechanism = 'all' and (
    c.n_lives + c.n_left_out is distinct from f.n_lives
    or c.n_without_meter + c.n_not_from_start + c.n_not_run <> c.n_left_out
    or c.n_failures + c.n_suspensions <> c.n_lives or c.n_left_out_failures > c.n_left_out
    -- A failure after the readings counts as running until they end.
    or f.n_failures <> c.n_failures + c.n_left_out_failures + c.n_cut_failures or c.n_cut_failures > c.n_cut)
order by c.clock, c.application_class, c.construction
