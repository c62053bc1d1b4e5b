"""Bounds against a slow profile of the likelihood, and their open ends."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats

from etl.errors import FitError
from etl.life.bounds import likelihood_ratio_bounds, normal_bounds
from etl.life.fit import fit_arranged
from etl.life.fixed_shape import life_at_shape
from etl.life.strata import arrange_strata
from etl.life.weibull import log_likelihood
from tests.life.strata_maker import make_lives

INF = np.inf


def best_with_life_fixed(life, log_age, fraction):
    """Greatest log-likelihood with the age fixed by which a fraction has failed."""
    spent = np.log(-np.log1p(-fraction))

    def loss(u):
        return -log_likelihood(np.exp(u), np.exp(log_age - spent / np.exp(u)), *life)

    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        grid = np.linspace(-3.0, 5.0, 81)
        at = int(np.nanargmin([loss(u) for u in grid]))
        found = optimize.minimize_scalar(loss, bounds=(grid[max(at - 1, 0)],
                                                       grid[min(at + 1, 80)]),
                                         method="bounded", options={"xatol": 1e-9})
    return -found.fun


def best_with_shape_fixed(life, shape):
    scale = life[1].max()
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        found = optimize.minimize_scalar(
            lambda m: -log_likelihood(shape, scale * np.exp(m), *life), bounds=(-4.0, 8.0),
            method="bounded", options={"xatol": 1e-10})
    return -found.fun


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.4, 0.0), (0.0, 0.5), (0.4, 0.5)])
@pytest.mark.parametrize("confidence", [0.90, 0.99])
def test_likelihood_has_fallen_by_the_stated_amount(late, interval, confidence):
    lives = make_lives(31, 5, 20, late, interval)
    strata = arrange_strata(*lives)
    fit = fit_arranged(strata)
    bounds = likelihood_ratio_bounds(strata, fit, confidence, (0.1, 0.5))
    fall = 0.5 * stats.chi2.ppf(confidence, 1)
    for k in range(5):
        life = [column[lives[0] == k] for column in lives[1:5]]
        for end in ("lower", "upper"):
            value = best_with_shape_fixed(life, getattr(bounds.shape, end)[k])
            assert fit.log_likelihood[k] - value == pytest.approx(fall, abs=1e-5)
            for j, fraction in enumerate((0.1, 0.5)):
                age = getattr(bounds.b_life, end)[k, j]
                value = best_with_life_fixed(life, np.log(age), fraction)
                assert fit.log_likelihood[k] - value == pytest.approx(fall, abs=1e-5)
            age = getattr(bounds.characteristic_life, end)[k]
            value = best_with_life_fixed(life, np.log(age), -np.expm1(-1.0))
            assert fit.log_likelihood[k] - value == pytest.approx(fall, abs=1e-5)


def test_one_failure_gives_huge_and_finite_bounds():
    strata = arrange_strata([0] * 3, 0.0, [300.0, 100.0, 900.0], [300.0, INF, INF], 1.0, 1)
    bounds = likelihood_ratio_bounds(strata, fit_arranged(strata))
    assert 0.0 < bounds.shape.lower[0] < 0.2
    assert bounds.characteristic_life.upper[0] > 1e5
    assert bounds.b_life.lower[0, 0] < 1.0


def test_late_lives_found_failed_long_after_give_bounds_without_a_warning():
    entry = [1530, 211, 1585, 2342, 2343, 4041]
    low = [1530, 2519, 3101, 3412, 3322, 4041]
    high = [8451, 2986, 3101, 6248, 3322, 6539]
    strata = arrange_strata([0] * 6, entry, low, high, [1, 2, 1, 3, 1, 1], 1)
    fit = fit_arranged(strata)
    bounds = likelihood_ratio_bounds(strata, fit, 0.99)
    for part, value in ((bounds.shape, fit.shape), (bounds.characteristic_life,
                                                    fit.characteristic_life)):
        assert part.lower[0] < value[0] < part.upper[0]


def test_an_end_that_the_likelihood_never_reaches_is_open():
    """Late entries with a hazard near 1 / age: shape 0 is within the bounds."""
    rng = np.random.default_rng(8)
    entry = rng.uniform(50.0, 100.0, 12)
    age = entry * np.exp(rng.exponential(0.8, 12))
    strata = arrange_strata(np.zeros(12, int), entry, age, age, 1.0, 1)
    fit = fit_arranged(strata)
    assert fit.has_estimate[0]
    bounds = likelihood_ratio_bounds(strata, fit, 0.99)
    assert bounds.shape.lower[0] == 0.0
    assert bounds.characteristic_life.lower[0] == 0.0


def test_normal_and_likelihood_ratio_bounds_meet_with_many_failures():
    strata = arrange_strata(*make_lives(32, 3, 20_000))
    fit = fit_arranged(strata)
    one, other = likelihood_ratio_bounds(strata, fit), normal_bounds(fit)
    assert_allclose(one.shape.lower, other.shape.lower, rtol=2e-4)
    assert_allclose(one.b_life.upper, other.b_life.upper, rtol=2e-3)


@pytest.mark.slow
def test_likelihood_ratio_bounds_cover_as_stated():
    rng = np.random.default_rng(33)
    k, n = 3000, 25
    age = 1000.0 * rng.weibull(2.0, (k, n))
    stop = rng.uniform(300.0, 1500.0, (k, n))
    low, high = np.minimum(age, stop).ravel(), np.where(age <= stop, age, INF).ravel()
    strata = arrange_strata(np.repeat(np.arange(k), n), 0.0, low, high, 1.0, k)
    bounds = likelihood_ratio_bounds(strata, fit_arranged(strata), 0.90)
    b10 = 1000.0 * np.sqrt(-np.log(0.9))
    for bound, true in ((bounds.shape, 2.0), (bounds.characteristic_life, 1000.0),
                        (bounds.b_life, b10)):
        inside = (np.ravel(bound.lower) <= true) & (true <= np.ravel(bound.upper))
        assert 0.87 <= inside.mean() <= 0.92


def test_life_at_the_fitted_shape_is_the_fitted_life():
    for interval in (0.0, 0.5):
        strata = arrange_strata(*make_lives(34, 6, 30, 0.2, interval))
        fit = fit_arranged(strata)
        found = life_at_shape(strata, fit.shape)
        assert_allclose(found.estimate, fit.characteristic_life, rtol=1e-7)
        assert np.all((found.lower < found.estimate) & (found.estimate < found.upper))


@pytest.mark.parametrize("value", [0.0, 1.0, 90.0, -0.1])
def test_confidence_must_be_a_fraction(value):
    strata = arrange_strata([0, 0], 0.0, [1.0, 2.0], [1.0, INF], 1.0, 1)
    with pytest.raises(FitError, match="must lie between 0 and 1"):
        likelihood_ratio_bounds(strata, fit_arranged(strata), value)


def test_a_given_shape_must_be_positive():
    with pytest.raises(FitError, match="shape must be > 0"):
        life_at_shape(arrange_strata([0], 0.0, [1.0], [INF], 1.0, 1), 0.0)
