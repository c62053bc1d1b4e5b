-- results.fit_tests: one row per fit with enough failures, with second opinions by textbook procedures.
-- Reads fit_tests_frame.
create or replace table results.fit_tests as
select
    application_class, construction, mechanism, rank_regression_shape, rank_regression_characteristic_life_days,
    best_distribution, aicc_weibull, aicc_lognormal, aicc_exponential, words
from fit_tests_frame
order by application_class, construction, mechanism
