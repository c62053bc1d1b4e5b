-- Faulty rows: mean failures that fall with age or lie outside their range, and trends without a class or with an odd shape.
with steps as (
    select *, lag(mean) over (partition by application_class order by age_days) as mean_before from results.mean_cumulative_failures
)

select application_class, age_days, mean as value from steps
where isnan(mean) or mean <= 0 or mean < mean_before or mean not between lower and upper
union all
select application_class, null, shape from results.recurrence_trends
where shape <= 0 or shape not between coalesce(shape_lower, 0) and coalesce(shape_upper, 'infinity')
    or laplace_p_value not between 0 and 1 or total_log_p_value not between 0 and 1
order by application_class, age_days
