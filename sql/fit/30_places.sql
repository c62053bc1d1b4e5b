-- fit.places: one row per service point with its code, class, present hose and what one change costs by the register.
-- Reads clean.service_points, lives.in_service, clean.parts, fit.cells.
create or replace table fit.places as
with present as (
    select
        service_point, arg_max(construction, (installed_on, hose_id)) as construction,
        arg_max(part_number, (installed_on, hose_id)) as part_number, arg_max(age_days, (installed_on, hose_id)) as age_days
    from lives.in_service
    group by service_point
),

priced as (
    select part_number, max(unit_price) as unit_price from clean.parts group by part_number
)

select
    row_number() over (order by p.service_point) - 1 as place, p.service_point, p.application_class, p.site, p.line, p.hazards,
    p.dn, p.pressure_bar, p.temperature_c, p.bend_radius_mm, p.downtime_cost_per_hour, h.construction, h.part_number, h.age_days,
    c.cell, (p.downtime_cost_per_hour * p.unplanned_downtime_h + priced.unit_price)::double as register_cost,
    (p.downtime_cost_per_hour * p.planned_downtime_h + priced.unit_price)::double as register_planned_cost, p.labour_h::double as labour_h
from clean.service_points as p
left join present as h using (service_point)
left join fit.cells as c on c.application_class = p.application_class and c.construction = h.construction
left join priced on priced.part_number = h.part_number
order by place
