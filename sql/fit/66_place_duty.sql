-- fit.place_duty: one row per service point with a hose in service: its duty, its latest measured vibration, what the catalogue says.
-- Reads clean.service_points, clean.inspections, clean.constructions, lives.in_service, fit.places.
create or replace table fit.place_duty as
with measured as (
    select service_point, arg_max(vibration_mm_s_rms, (inspected_on, vibration_mm_s_rms)) as vibration_mm_s_rms,
        arg_max(vibration_hz, (inspected_on, vibration_mm_s_rms)) as vibration_hz
    from clean.inspections
    where vibration_mm_s_rms is not null
    group by service_point
),

bumped as (
    select i.service_point, s.construction,
        arg_max(i.natural_frequency_hz, (i.inspected_on, i.natural_frequency_hz)) as natural_frequency_hz
    from clean.inspections as i
    join lives.in_service as s on s.service_point = i.service_point and s.installed_on <= i.inspected_on
    where i.natural_frequency_hz > 0
    group by i.service_point, s.construction
)

select
    f.place, p.service_point, p.dn::double as dn, p.pressure_bar, p.temperature_c, p.flow_velocity_m_s, p.live_length_mm,
    p.bend_radius_mm, coalesce(m.vibration_mm_s_rms, p.vibration_mm_s_rms) as vibration_mm_s_rms,
    case when m.service_point is null then p.vibration_hz else coalesce(m.vibration_hz, p.vibration_hz) end as vibration_hz,
    c.core_alloy, c.rated_pressure_bar, c.min_bend_radius_dynamic_mm, c.bending_stiffness_n_m2, c.mass_kg_per_m,
    b.natural_frequency_hz
from fit.places as f
join clean.service_points as p using (service_point)
left join measured as m using (service_point)
left join bumped as b on b.service_point = f.service_point and b.construction = f.construction
left join clean.constructions as c on c.construction = f.construction and c.dn is not distinct from p.dn
where f.construction is not null
order by f.place
