"""Weibull distributions that start at an age: published fits, a search by scipy, refusals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats

from etl.life.fit import fit_strata
from etl.life.goodness import departure_of
from etl.life.simulate import SeenLives
from etl.life.three_parameter import fit_three_parameter
from tests.life.strata_maker import make_lives
from tests.published.lives_data import published


def fitted(lives):
    return fit_three_parameter(SeenLives(*lives[:5]), fit_strata(*lives))


# tolerances of location, scale and shape as the source prints them
@pytest.mark.parametrize(("name", "figures", "tolerances"), [
    pytest.param("pike_rats", (122.03, 108.37, 2.7112), (6e-3, 0.02, 5e-4),
                 id="Lawless (1982) p. 193, as fitted in the SciPy test suite"),
    pytest.param("lockhart_stephens_a", (99.02, 78.23, 2.38), (0.015, 0.015, 6e-3),
                 id="Lockhart and Stephens (1994), data A, quoted by the SciPy test suite"),
    pytest.param("rinne_2_3par", (19.28374, 25.08779, 2.169632), (2e-3, 2.5e-3, 2e-4),
                 id="computed here on Rinne (2009) p. 348"),
    pytest.param("alloy_t7987", (92.9954, 93.2430, 1.31977), (0.09, 0.09, 1e-3),
                 id="computed here on Meeker and Escobar p. 131, alloy T7987"),
])
def test_published_fits(name, figures, tolerances):
    found = fitted(published(name).arguments())
    assert found.outcome == ["estimate"]
    for value, figure, tolerance in zip(
            (found.location[0], found.scale[0], found.shape[0]), figures, tolerances, strict=True):
        assert value == pytest.approx(figure, abs=tolerance)


@pytest.mark.parametrize(("name", "value"), [
    pytest.param("rinne_2_3par", -75.344554, id="computed here on Rinne (2009) p. 348"),
    pytest.param("alloy_t7987", -363.93598, id="computed here on Meeker and Escobar p. 131"),
])
def test_height_of_the_likelihood(name, value):
    assert fitted(published(name).arguments()).log_likelihood[0] == pytest.approx(value, abs=1e-4)


def test_the_published_distance_of_such_a_fit():
    """Lockhart and Stephens (1994), data A, quoted by the SciPy test suite: A squared 0.260."""
    lives = published("lockhart_stephens_a")
    found = fitted(lives.arguments())
    ages = lives.low - found.location[0]
    less = SeenLives(np.zeros(ages.size, int), np.zeros(ages.size), ages, ages, lives.count)
    fit = fit_strata(less.stratum, 0.0, ages, ages, lives.count, 1)
    assert_allclose(departure_of(less, fit).anderson_darling, [0.260], atol=6e-4)


# Lockhart and Stephens (1994), data B, quoted by the SciPy test suite: no greatest value.
def test_a_likelihood_without_a_peak_is_refused():
    found = fitted(published("lockhart_stephens_b").arguments())
    assert found.outcome == ["no_finite_estimate"]
    assert np.isnan([found.location[0], found.shape[0], found.log_likelihood[0]]).all()


def test_lives_that_fail_from_new_on_keep_two_parameters():
    lives = published("nelson_cracks").arguments()
    found, fit = fitted(lives), fit_strata(*lives)
    assert found.outcome == ["from_new"]
    assert found.location[0] == 0.0
    assert_allclose([found.shape[0], found.log_likelihood[0]],
                    [fit.shape[0], fit.log_likelihood[0]])


def test_few_failures_are_not_tried():
    """A third parameter on four failures follows the first of them."""
    ages = np.array([430.0, 555.0, 610.0, 700.0])
    found = fitted((np.zeros(4, int), np.zeros(4), ages, ages, np.ones(4), 1))
    assert found.outcome == ["not_tried"]
    assert np.isnan(found.location[0])


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.3, 0.0), (0.2, 0.5)])
def test_no_search_in_three_parameters_gets_higher(late, interval):
    lives = make_lives(81, 4, 80, late, interval, (1.5, 3.0))
    columns = [np.array(column, float) for column in lives[1:4]]
    shift = np.array([300.0, 50.0, 800.0, 0.0])[lives[0]]
    entry, low, high = (np.where((column > 0) | (i > 0), column + shift, 0.0)
                        for i, column in enumerate(columns))
    found = fitted((lives[0], entry, low, high, lives[4], 4))
    assert found.outcome.count("estimate") >= 2

    def cost(theta, k):
        rows = lives[0] == k
        location, shape, scale = theta[0], np.exp(theta[1]), np.exp(theta[2])
        law = stats.weibull_min(shape, location, scale)
        e, a, b = entry[rows], low[rows], high[rows]
        exact, held = a == b, np.isinf(b)
        span = ~exact & ~held
        with np.errstate(all="ignore"):
            value = (law.logpdf(a[exact]).sum() + law.logsf(a[held]).sum() - law.logsf(e).sum()
                     + np.log(law.cdf(b[span]) - law.cdf(a[span])).sum())
        return -value if np.isfinite(value) else 1e9

    for k in range(4):
        if found.outcome[k] == "no_finite_estimate":
            continue
        theta = [found.location[k], np.log(found.shape[k]), np.log(found.scale[k])]
        assert -cost(theta, k) == pytest.approx(found.log_likelihood[k], abs=1e-6)
        near = optimize.minimize(cost, theta, (k,), method="Nelder-Mead",
                                 options={"maxiter": 4000, "xatol": 1e-7, "fatol": 1e-9})
        if near.x[0] >= 0.0:
            assert -near.fun <= found.log_likelihood[k] + 1e-5


def test_the_unit_of_the_ages_does_not_matter():
    stratum, entry, low, high, count, n = published("pike_rats").arguments()
    one, two = (fitted((stratum, entry, low * unit, high * unit, count, n)) for unit in (1.0, 1e3))
    assert_allclose(two.location, 1e3 * one.location, rtol=1e-6)
    assert_allclose(two.shape, one.shape, rtol=1e-5)
