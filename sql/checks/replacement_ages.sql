-- Faulty rows: a place in service without a row or a reason, ages out of order, an age where none may be given, work put off.
with hoses as (
    select service_point from results.service_points where hose_id is not null
),

wrong as (
    select a.service_point, a.verdict
    from results.replacement_ages as a
    where a.reason is null or (a.preventive_age_days is not null) <> (a.verdict = 'pays')
        or a.flat_from_days > a.preventive_age_days or a.flat_to_days < a.preventive_age_days
        or a.saving_per_year_lower > a.saving_per_year_upper or a.saving_probability not between 0 and 1
        or a.replacement_age_days > a.required_interval_days or (a.planned_on is null) <> (a.replacement_age_days is null)
        or a.planned_on <= $as_of::date
        or (a.method = 'required interval') <> (a.replacement_age_days is not distinct from a.required_interval_days
            and a.required_interval_days is not null)
)

select coalesce(h.service_point, a.service_point) as service_point, 'hose without an age or age without a hose' as fault
from hoses as h
full join results.replacement_ages as a using (service_point)
where h.service_point is null or a.service_point is null
union all
select service_point, verdict as fault from wrong
order by service_point, fault
