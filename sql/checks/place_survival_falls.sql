-- Faulty rows: survival at a place that rises with age, lies outside its range or outside 0 to 1.
with steps as (
    select *, lag(survival) over (partition by service_point order by age_days) as survival_before from results.place_survival
)

select service_point, age_days, survival from steps
where isnan(survival) or survival not between 0 and 1 or survival not between survival_lower and survival_upper
    or survival > survival_before
order by service_point, age_days
