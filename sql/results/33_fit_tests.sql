-- results.fit_tests: one row per fit with enough failures: second opinions by textbook procedures, how well the Weibull fits
-- by chance simulated, a fit with a location, and a second population where the Weibull fits poorly.
-- Reads fit_tests_frame, fit_checks_frame.
create or replace table results.fit_tests as
select
    t.application_class, t.construction, t.mechanism, t.rank_regression_shape, t.rank_regression_characteristic_life_days,
    t.best_distribution, t.aicc_weibull, t.aicc_lognormal, t.aicc_exponential, c.aicc_three_parameter, t.words,
    c.n_failures_judged::integer as n_failures_judged, c.anderson_darling, c.anderson_darling_p_value, c.plot_correlation,
    c.plot_correlation_p_value, c.three_parameter_outcome, c.three_parameter_location_days, c.three_parameter_shape,
    c.three_parameter_scale_days, c.mixture_p_value, c.mixture_early_share, c.mixture_early_life_days, c.mixture_late_life_days
from fit_tests_frame as t
inner join fit_checks_frame as c
    on c.application_class = t.application_class and c.construction = t.construction and c.mechanism = t.mechanism
order by t.application_class, t.construction, t.mechanism
