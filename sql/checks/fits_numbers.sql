-- Faulty rows: estimates that are no finite positive number, or lie outside their own bounds.
select application_class, construction, mechanism, status, shape, b10_days, pooled_b10_days
from results.fits
where isnan(shape) or isinf(shape) or shape <= 0 or isnan(b10_days) or isinf(b10_days) or b10_days <= 0
    or isnan(pooled_b10_days) or isinf(pooled_b10_days)
    or shape not between coalesce(shape_lower, 0) and coalesce(shape_upper, 'infinity')
    or b10_days not between coalesce(b10_days_lower, 0) and coalesce(b10_days_upper, 'infinity')
    or pooled_b10_days not between coalesce(pooled_b10_days_lower, 0) and coalesce(pooled_b10_days_upper, 'infinity')
order by application_class, construction, mechanism
