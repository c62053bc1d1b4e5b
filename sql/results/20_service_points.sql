-- results.service_points: one row per service point with its register entry, its present hose and its fitted lives counted.
-- Reads clean.service_points, lives.in_service, lives.lives.
create or replace table results.service_points as
with counted as (
    select
        service_point, count(*) as n_lives, count(*) filter (where kind <> 'suspended') as n_failures,
        count(*) filter (where kind = 'suspended') as n_suspensions
    from lives.lives
    where is_fitted
    group by service_point
),

present as (
    select
        service_point, count(*) as n_hoses, max(hose_id order by installed_on, hose_id) as hose_id,
        arg_max(construction, (installed_on, hose_id)) as construction, arg_max(part_number, (installed_on, hose_id)) as part_number,
        max(installed_on) as installed_on, arg_max(age_days, (installed_on, hose_id)) as age_days
    from lives.in_service
    group by service_point
)

select
    p.service_point, p.application_class, p.site, p.area, p.line, p.equipment, p.medium, p.hazards, p.dn, p.pressure_bar,
    p.temperature_c, p.flow_velocity_m_s, p.movement, p.vibration_mm_s_rms, p.vibration_hz, p.displacement_mm,
    p.live_length_mm, p.bend_radius_mm, p.records_from, p.retired_on, h.hose_id, h.construction, h.part_number,
    h.installed_on, h.age_days, coalesce(c.n_lives, 0) as n_lives, coalesce(c.n_failures, 0) as n_failures,
    coalesce(c.n_suspensions, 0) as n_suspensions
from clean.service_points as p
left join present as h using (service_point)
left join counted as c using (service_point)
order by p.service_point
