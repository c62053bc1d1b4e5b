-- results.place_duty: one row per service point with a hose in service: its duty and what the catalogue says of its hose, as the
-- sheet of rough physics starts from it. Reads fit.place_duty, clean.service_points.
create or replace table results.place_duty as
select
    d.service_point, f.construction, d.dn, d.pressure_bar, d.temperature_c, d.flow_velocity_m_s, d.live_length_mm, d.bend_radius_mm,
    d.vibration_mm_s_rms, d.vibration_hz, d.natural_frequency_hz, p.run_hours_per_year, p.displacement_mm, d.core_alloy,
    d.rated_pressure_bar, d.min_bend_radius_dynamic_mm, d.bending_stiffness_n_m2, d.mass_kg_per_m
from fit.place_duty as d
join fit.places as f using (place)
join clean.service_points as p on p.service_point = d.service_point
order by d.service_point
