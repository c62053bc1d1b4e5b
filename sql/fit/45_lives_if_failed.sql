-- fit.lives_if_failed: one row per group of equal fitted lives, had every removal without a reason been a failure.
-- Reads lives.lives, fit.cells.
create or replace table fit.lives_if_failed as
select
    c.cell, l.entry_age_days as entry, l.age_low_days as low,
    case when l.kind <> 'suspended' then l.age_high_days when l.is_unknown_reason then l.age_low_days else 'infinity'::double end as high,
    count(*)::double as n
from lives.lives as l
join fit.cells as c using (application_class, construction)
where l.is_fitted
group by c.cell, l.kind, l.is_unknown_reason, l.entry_age_days, l.age_low_days, l.age_high_days
order by c.cell, entry, low, high
