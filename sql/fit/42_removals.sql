-- fit.removals: one row per group of equal fitted lives, told apart by whether the hose was taken out unfailed, and whether
-- it is still in service.
-- Reads fit.counted_lives, fit.cells.
create or replace table fit.removals as
select
    c.cell, l.entry_age_days as entry, l.age_low_days as low, l.kind = 'suspended' and not l.is_open as is_removed,
    l.is_open, count(*)::double as n
from fit.counted_lives as l
join fit.cells as c using (application_class, construction)
where l.is_fitted
group by c.cell, l.entry_age_days, l.age_low_days, l.kind = 'suspended' and not l.is_open, l.is_open
order by c.cell, entry, low, is_removed, l.is_open
