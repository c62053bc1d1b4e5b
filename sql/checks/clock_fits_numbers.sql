-- Faulty rows: estimates by a clock of the meters that are no finite positive number, or lie outside their own bounds.
select clock, application_class, construction, mechanism, status, shape, characteristic_life, b10
from results.clock_fits
where isnan(shape) or isinf(shape) or shape <= 0 or isnan(b10) or isinf(b10) or b10 <= 0
    or isnan(characteristic_life) or isinf(characteristic_life) or characteristic_life <= 0
    or shape not between coalesce(shape_lower, 0) and coalesce(shape_upper, 'infinity')
    or characteristic_life not between coalesce(characteristic_life_lower, 0) and coalesce(characteristic_life_upper, 'infinity')
    or b10 not between coalesce(b10_lower, 0) and coalesce(b10_upper, 'infinity')
order by clock, application_class, construction, mechanism
