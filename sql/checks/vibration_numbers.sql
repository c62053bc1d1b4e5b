-- Faulty rows: lives, ratios or chances under vibration outside their range, or a cell or choice that has both or neither of number and reason.
select 'cell' as what, construction, velocity_mm_s::varchar as at_what
from results.vibration_cells
where (b10_days is null) = (reason is null) or b10_days not between b10_days_lower and b10_days_upper or b10_days <= 0
    or not isfinite(b10_days)
union all
select 'choice', construction, service_point
from results.vibration_choices
where (chance is null) = (reason is null) or chance not between 0 and 1 or next_chance not between 0 and 1
    or life_ratio not between life_ratio_lower and life_ratio_upper or construction = present_construction
union all
select 'life', construction, velocity_mm_s::varchar
from results.vibration_lives
where b10_days not between b10_days_lower and b10_days_upper or b10_days <= 0 or not isfinite(b10_days)
union all
select 'construction', construction, exponent::varchar
from results.vibration_constructions
where exponent not between exponent_lower and exponent_upper or shape not between shape_lower and shape_upper or shape <= 0
    or lowest_mm_s > highest_mm_s or n_failures > n_lives
union all
select 'place', coalesce(p.construction, 'none'), p.service_point
from results.vibration_places as p
left join results.service_points as s using (service_point)
where s.service_point is null or velocity_mm_s not between velocity_mm_s_lower and velocity_mm_s_upper or velocity_mm_s <= 0
order by what, construction, at_what
