-- fit.coded_lives: one row per fitted life, in codes; mechanism -1 = suspension, -2 = failure of unknown mechanism. A view.
-- Reads fit.counted_lives, fit.cells, fit.places, fit.mechanisms.
create or replace view fit.coded_lives as
select
    l.life_id, l.service_point, c.cell, p.place, case when l.kind = 'suspended' then -1 else coalesce(m.code, -2) end as mechanism,
    l.entry_age_days as entry, l.age_low_days as low,
    case when l.kind = 'suspended' then 'infinity'::double else l.age_high_days end as high
from fit.counted_lives as l
join fit.cells as c using (application_class, construction)
join fit.places as p using (service_point)
left join fit.mechanisms as m on m.mechanism = l.mechanism
where l.is_fitted
