-- fit.lives: one row per group of equal fitted lives; mechanism -1 = suspension, -2 = failure of unknown mechanism.
-- Reads fit.counted_lives, fit.cells, fit.places, fit.mechanisms.
create or replace table fit.lives as
select
    c.cell, p.place, case when l.kind = 'suspended' then -1 else coalesce(m.code, -2) end as mechanism,
    l.entry_age_days as entry, l.age_low_days as low,
    case when l.kind = 'suspended' then 'infinity'::double else l.age_high_days end as high, count(*)::double as n
from fit.counted_lives as l
join fit.cells as c using (application_class, construction)
join fit.places as p using (service_point)
left join fit.mechanisms as m on m.mechanism = l.mechanism
where l.is_fitted
group by c.cell, p.place, l.kind, m.code, l.entry_age_days, l.age_low_days, l.age_high_days
order by c.cell, p.place, entry, low, high, mechanism
