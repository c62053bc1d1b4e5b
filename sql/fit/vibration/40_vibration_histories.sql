-- fit.vibration_histories: one row per group of equal lives at places whose installations go back to their first day in service:
-- all count from new there, those too that came out before removals were recorded, mostly for reasons that nobody wrote down.
-- Reads clean.service_points, fit.counted_lives, fit.cells, fit.places, fit.mechanisms.
create or replace table fit.vibration_histories as
with every as (
    select
        l.*, c.cell, p.commissioned_on,
        coalesce(l.exclusion = 'ended before the records begin', false) as is_early
    from fit.counted_lives as l
    join clean.service_points as p using (service_point)
    left join fit.cells as c on c.application_class = l.application_class and c.construction = l.construction
    where p.commissioned_on is not null
),

whole as (
    select service_point
    from every
    group by service_point, commissioned_on
    having abs(date_diff('day', commissioned_on, min(installed_on))) <= 31 and count(*) = count(cell)
)

select
    e.cell, f.place, case when e.kind = 'suspended' then -1 else coalesce(m.code, -2) end as mechanism,
    e.carried_age_days as entry, e.age_low_days as low,
    case when e.kind = 'suspended' then 'infinity'::double else e.age_high_days end as high,
    e.is_early and e.is_unknown_reason as is_doubtful, count(*)::double as n
from every as e
join whole using (service_point)
join fit.places as f using (service_point)
left join fit.mechanisms as m on m.mechanism = e.mechanism
where (e.is_fitted or e.is_early) and (e.kind = 'interval' or e.age_low_days > e.carried_age_days)
group by all
order by e.cell, f.place, entry, low, high, mechanism, is_doubtful
