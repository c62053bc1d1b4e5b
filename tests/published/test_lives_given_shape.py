"""Lives at a given shape, most of them exponential, against published figures; ids name the source.

A bound that a source states on one side with content c is an end of our two-sided range of
content 2 c - 1.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life.compare_distributions import compare_distributions
from etl.life.fit import fit_strata
from etl.life.fixed_shape import life_at_shape
from etl.life.strata import arrange_strata
from etl.life.weibull import b_life, survival
from tests.published.lives_data import published

PLANNER = "documentation of the library reliability, page Reliability test planner"
WEIBAYES = "documentation of the PyPI package weibull, page Examples, Weibayes analysis"


def at_shape(name, shape, confidence=0.90):
    return life_at_shape(arrange_strata(*published(name).arguments()), shape, confidence)


@pytest.mark.parametrize(("name", "log_life", "tolerance"), [
    pytest.param("diesel_fan", 10.26476, 1e-5,
                 id="Meeker and Escobar 1998 p. 166, as quoted by the R package survival"),
    pytest.param("bury_12_4_exponential", np.log(155.916667), 1e-8,
                 id="computed here on Bury 1999 Example 12.4"),
])
def test_exponential_life(name, log_life, tolerance):
    found = at_shape(name, 1.0).estimate[0]
    assert np.log(found) == pytest.approx(log_life, abs=tolerance)


@pytest.mark.parametrize(("lower", "upper"), [
    pytest.param(16431.96, 55549.69, id="computed here on the fan times of the SciPy test suite")])
def test_exponential_bounds_of_a_test_ended_by_time(lower, upper):
    found = at_shape("diesel_fan", 1.0, 0.95)
    assert_allclose([found.lower[0], found.upper[0]], [lower, upper], rtol=1e-6)


@pytest.mark.parametrize(("total", "failures", "confidence", "lower"), [
    pytest.param(19520.0, 7, 0.80, 1658.3248534993454, id=f"{PLANNER}, 80 % two-sided"),
    pytest.param(10000.0, 6, 0.60, 1101.8815940201118, id=f"{PLANNER}, 80 % one-sided"),
])
def test_lower_bound_of_the_mean_time_between_failures(total, failures, confidence, lower):
    each = total / failures
    strata = arrange_strata([0], 0.0, [each], [each], [failures], 1)
    assert_allclose(life_at_shape(strata, 1.0, confidence).lower, [lower], rtol=1e-12)


@pytest.mark.parametrize(("confidence", "events"), [
    pytest.param(0.95, 3.689, id="R package epitools, pois.exact, two-sided"),
    pytest.param(0.90, 2.996, id="R package epitools, pois.daly, one-sided"),
])
def test_most_events_where_none_was_seen(confidence, events):
    strata = arrange_strata([0], 0.0, [1.0], [np.inf], 1.0, 1)
    found = life_at_shape(strata, 1.0, confidence).lower[0]
    assert 1.0 / found == pytest.approx(events, abs=6e-4)


LENGTHS = {(0.6, 0): 0.916, (0.6, 1): 2.02, (0.6, 2): 3.11, (0.8, 0): 1.61, (0.8, 1): 2.99,
           (0.8, 2): 4.28, (0.9, 0): 2.30, (0.9, 1): 3.89, (0.9, 2): 5.32, (0.95, 0): 3.00,
           (0.95, 1): 4.74, (0.95, 2): 6.30}


@pytest.mark.parametrize(("content", "failures", "factor"), [
    pytest.param(*key, value, id=f"NIST e-Handbook ch. 8, test length guide (from memory), "
                                 f"{key[0]:g}, {key[1]} failed")
    for key, value in LENGTHS.items()])
def test_time_that_shows_a_mean_time_between_failures(content, failures, factor):
    ages, ends = [1.0], [np.inf]
    if failures:
        ages = ends = [1.0 / failures]
    strata = arrange_strata([0], 0.0, ages, ends, [max(failures, 1)], 1)
    found = life_at_shape(strata, 1.0, 2.0 * content - 1.0).lower[0]
    assert 1.0 / found == pytest.approx(factor, abs=0.006)


@pytest.mark.parametrize(("shape", "ages", "fraction", "confidence", "lower"), [
    pytest.param(2.0, 62 * [62e6], 0.02, 0.95, 40090439.86038491, id=WEIBAYES)])
def test_bound_of_an_early_age_without_failures(shape, ages, fraction, confidence, lower):
    strata = arrange_strata([0] * len(ages), 0.0, ages, [np.inf] * len(ages), 1.0, 1)
    found = life_at_shape(strata, shape, 2.0 * confidence - 1.0).lower[0]
    assert b_life(fraction, shape, found) == pytest.approx(lower, rel=1e-10)


@pytest.mark.parametrize(("name", "statistic", "p_value"), [
    pytest.param("nist_8413", 2.84214, 0.09182, id="computed here on NIST 8.4.1.3"),
    pytest.param("diesel_fan", 0.04901, 0.8248,
                 id="computed here on the fan times of the SciPy test suite"),
])
def test_likelihood_ratio_of_exponential_against_weibull(name, statistic, p_value):
    arguments = published(name).one_by_one().arguments()
    found = compare_distributions(*arguments, fit_strata(*arguments))
    n = arguments[2].size
    penalty = [2 * k + 2 * k * (k + 1) / (n - k - 1) for k in (1, 2)]
    gain = (found.aicc_exponential[0] - penalty[0]) - (found.aicc_weibull[0] - penalty[1])
    assert gain == pytest.approx(statistic, abs=1e-4)
    assert stats.chi2.sf(gain, 1) == pytest.approx(p_value, abs=1e-4)


@pytest.mark.parametrize(("lives_each", "n_items"), [
    pytest.param(1.0, 2995, id="documentation of the library reliability, Sample size required"),
    pytest.param(3.0, 999, id="the same, three lives each at shape 1"),
])
def test_fewest_items_without_failure_that_show_a_reliability(lives_each, n_items):
    shown = []
    for n in (n_items - 1, n_items):
        strata = arrange_strata([0], 0.0, [lives_each], [np.inf], [n], 1)
        least = life_at_shape(strata, 1.0, 0.90).lower[0]  # each bound alone holds with 95 %
        shown.append(bool(survival(1.0, 1.0, least) >= 0.999))
    assert shown == [False, True]
