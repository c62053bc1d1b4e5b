-- results.due: one row per hose whose planned change falls within a year of the data date, in order of its day.
-- Counts are of the hoses of its kind. Reads results.replacement_ages, results.service_points, results.preventive_ages.
create or replace table results.due as
select
    a.planned_on as due_on, date_trunc('month', a.planned_on)::date as due_month, a.service_point, p.part_number, a.reason,
    a.method, p.site, p.line, p.application_class, p.construction, p.hazards, p.hose_id, p.installed_on, p.age_days,
    a.replacement_age_days, a.is_overdue, a.shutdown_first_on, a.shutdown_last_on, a.labour_h, a.cost_per_planned_change,
    a.planned_cost_origin, a.cost_per_failure, a.saving_per_year, a.saving_per_year_lower, a.saving_per_year_upper, a.saving_probability,
    a.still_running_probability, k.n_failures, k.n_suspensions
from results.replacement_ages as a
join results.service_points as p using (service_point)
left join results.preventive_ages as k on k.application_class = p.application_class and k.construction = p.construction
where a.planned_on <= $as_of::date + 365
order by a.planned_on, a.service_point
