-- Faulty rows: chances and shares outside 0 to 1, ages that are none, a second population without its chance.
select application_class, construction, mechanism, anderson_darling_p_value, plot_correlation_p_value, mixture_p_value
from results.fit_tests
where anderson_darling_p_value not between 0 and 1 or plot_correlation_p_value not between 0 and 1
    or (anderson_darling_p_value is null) <> (n_failures_judged is null)
    or anderson_darling < 0 or plot_correlation not between 0 and 1
    or three_parameter_location_days < 0 or three_parameter_shape <= 0 or three_parameter_scale_days <= 0
    or (three_parameter_outcome in ('estimate', 'from_new')) <> (three_parameter_location_days is not null)
    or mixture_p_value not between 0 and 1 or mixture_early_share not between 0 and 1
    or mixture_early_life_days > mixture_late_life_days or (mixture_early_share is not null and mixture_p_value is null)
order by application_class, construction, mechanism
