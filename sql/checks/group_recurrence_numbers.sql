-- Faulty rows: mean failures of a line or machine that fall with age or lie outside their range, and trends with an odd shape.
with steps as (
    select *, lag(mean) over (partition by scope, site, scope_name order by age_days) as mean_before from results.group_mean_failures
)

select scope, site, scope_name, age_days, mean as value from steps
where isnan(mean) or mean <= 0 or mean < mean_before or mean not between lower and upper
union all
select scope, site, scope_name, null, shape from results.group_trends
where shape <= 0 or shape not between coalesce(shape_lower, 0) and coalesce(shape_upper, 'infinity')
    or laplace_p_value not between 0 and 1 or total_log_p_value not between 0 and 1 or n_places < 3
order by scope, site, scope_name, age_days
