"""Bounds by simulation against exact ones, against another way of bounding, and their edges."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from etl.errors import FitError
from etl.life.bootstrap import bootstrap_bounds
from etl.life.bounds import likelihood_ratio_bounds
from etl.life.bounds_survival import likelihood_ratio_mean, likelihood_ratio_survival
from etl.life.fit import fit_arranged, fit_strata
from etl.life.simulate import SeenLives, simulated, watching_of
from etl.life.strata import arrange_strata
from etl.life.streams import Streams
from tests.life.strata_maker import make_lives
from tests.published.lives_data import published


def bounded(lives, **asked):
    return bootstrap_bounds(lives.entry, lives.low, lives.high, lives.count, seed=3, **asked)


def test_complete_lives_agree_with_the_exact_pivots_drawn_by_scipy():
    """With complete lives the law of (log estimate - log truth) / error has no parameter."""
    lives = published("lz_bearings")
    found = bounded(lives, n_replicates=4000)
    n, draws = lives.low.size, 1500
    ages = stats.weibull_min.rvs(1.0, size=(draws, n), random_state=8)
    again = fit_strata(np.repeat(np.arange(draws), n), 0.0, ages.ravel(), ages.ravel(), 1.0, draws)
    error = np.sqrt(np.linalg.inv(again.information)[:, 0, 0])
    fit = fit_strata(*lives.arguments())
    own_error = np.sqrt(np.linalg.inv(fit.information)[0, 0, 0])
    far, near = np.quantile(np.log(again.shape) / error, [0.95, 0.05])
    assert_allclose([found.lives.shape.lower[0], found.lives.shape.upper[0]],
                    fit.shape[0] * np.exp(-np.array([far, near]) * own_error), rtol=0.03)


@pytest.mark.parametrize("name", ["shock_absorber", "nist_8413", "diesel_fan", "nelson_cracks"])
def test_bounds_lie_near_those_by_likelihood_ratio(name):
    lives = published(name)
    strata = arrange_strata(*lives.arguments())
    fit = fit_arranged(strata)
    ages = fit.characteristic_life * np.array([0.3, 0.7])
    found = bounded(lives, ages=ages)
    other = likelihood_ratio_bounds(strata, fit)
    pairs = ((found.lives.shape, other.shape), (found.lives.b_life, other.b_life),
             (found.lives.characteristic_life, other.characteristic_life),
             (found.mean, likelihood_ratio_mean(strata, fit)))
    for one, two in pairs:
        width = np.log(two.upper / two.lower)
        assert np.all(np.abs(np.log(one.lower / two.lower)) < 0.25 * width)
        assert np.all(np.abs(np.log(one.upper / two.upper)) < 0.25 * width)
    survival = likelihood_ratio_survival(strata, fit, ages)
    assert_allclose(found.survival.lower, survival.lower, atol=0.06)
    assert_allclose(found.survival.upper, survival.upper, atol=0.06)
    assert found.usable_share > 0.99


def test_the_order_of_the_lives_and_rows_of_several_lives_change_nothing():
    lives = published("shock_absorber")
    turned = lives.only(np.argsort(-lives.low))
    first, second = bounded(lives, n_replicates=50), bounded(turned, n_replicates=50)
    assert_array_equal(first.lives.b_life.lower, second.lives.b_life.lower)
    other = bootstrap_bounds(lives.entry, lives.low, lives.high, lives.count, seed=4,
                             n_replicates=50)
    assert other.lives.b_life.lower != first.lives.b_life.lower


def test_survival_of_a_new_hose_is_one_and_no_estimate_has_no_bounds():
    found = bounded(published("nist_8413"), ages=[0.0, 100.0], n_replicates=99)
    assert found.survival.lower[0, 0] == found.survival.upper[0, 0] == 1.0
    assert 0.0 < found.survival.lower[0, 1] < found.survival.upper[0, 1] < 1.0
    none = bootstrap_bounds([0.0], [5.0], [np.inf], [1.0], seed=1, ages=[0.0])
    assert np.isnan(none.lives.shape.lower[0])
    assert np.isnan(none.survival.lower[0, 0])
    assert none.usable_share == 0.0


@pytest.mark.parametrize(("failed", "is_bounded"), [(20, True), (38, False)])
def test_too_few_usable_replicates_give_no_bounds(failed, is_bounded):
    """One failure among many: where it is among the oldest, few simulated sets have a fit."""
    n = 40
    low, high = np.linspace(1.0, 40.0, n), np.full(n, np.inf)
    high[failed] = low[failed]
    found = bootstrap_bounds(np.zeros(n), low, high, np.ones(n), seed=1, n_replicates=400)
    assert (found.usable_share > 0.5) == is_bounded
    assert np.isfinite(found.lives.shape.lower[0]) == is_bounded


@pytest.mark.parametrize("asked", [{"confidence": 1.0}, {"fractions": (0.0,)}, {"ages": [-1.0]}])
def test_impossible_questions_are_refused(asked):
    with pytest.raises(FitError):
        bounded(published("nist_8413"), **asked)


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.5, 0.0), (0.4, 0.6)])
def test_simulated_lives_are_fitted_by_what_they_came_from(late, interval):
    lives = make_lives(5, 3, 300, late, interval, (0.8, 3.0))
    fit = fit_strata(*lives)
    watching = watching_of(SeenLives(*lives[:5]), 3)
    drawn = simulated(watching, fit.shape, fit.characteristic_life, 200,
                      Streams(1, list("abc")))
    again = fit_strata(drawn.stratum, drawn.entry, drawn.low, drawn.high, drawn.count, 600)
    shape = np.log(again.shape).reshape(200, 3)
    error = shape.std(axis=0)
    assert np.all(np.abs(shape.mean(axis=0) - np.log(fit.shape)) < 0.3 * error)
    expected = np.sqrt(np.linalg.inv(fit.information)[:, 0, 0])
    assert_allclose(error, expected, rtol=0.2)
    failures = (again.n_failures + again.n_intervals).reshape(200, 3)
    assert_allclose(failures.mean(axis=0), fit.n_failures + fit.n_intervals, rtol=0.05)
    if interval:
        share = again.n_intervals.sum() / failures.sum()
        real = fit.n_intervals.sum() / (fit.n_failures + fit.n_intervals).sum()
        assert_allclose(share, real, atol=0.03)


def test_rows_of_several_suspensions_are_watched_as_that_many_lives():
    low = np.array([10.0, 12.0, 15.0, 30.0])
    high = np.array([10.0, 12.0, 15.0, np.inf])
    watching = watching_of(SeenLives(np.zeros(4, int), np.zeros(4), low, high,
                                     np.array([1.0, 2.0, 1.0, 96.0])), 1)
    assert watching.failed.low.size == 4
    drawn = simulated(watching, np.array([2.0]), np.array([100.0]), 400,
                      Streams(2, ["a"]))
    failed = np.bincount(drawn.stratum, drawn.is_failed * drawn.count, 400)
    assert_array_equal(np.bincount(drawn.stratum, drawn.count, 400), np.full(400, 100.0))
    chance = -np.expm1(-(30.0 / 100.0) ** 2)
    assert_allclose(failed.mean(), 100 * chance, rtol=0.05)
    assert drawn.low[drawn.is_failed].max() <= 30.0


def test_a_life_suspended_alone_stops_no_later_one():
    """All at risk went at age 5; others entered later and were watched to 50."""
    n = 30
    entry = np.r_[0.0, np.full(n, 10.0)]
    low = np.r_[5.0, np.linspace(12.0, 30.0, n // 2), np.full(n // 2, 50.0)]
    high = np.r_[np.inf, np.linspace(12.0, 30.0, n // 2), np.full(n // 2, np.inf)]
    watching = watching_of(SeenLives(np.zeros(n + 1, int), entry, low, high, np.ones(n + 1)), 1)
    drawn = simulated(watching, np.array([1.5]), np.array([40.0]), 200, Streams(6, ["a"]))
    assert np.all(drawn.low > drawn.entry)
    assert set(np.unique(drawn.low[~drawn.is_failed])) == {5.0, 50.0}


# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: a test stopped at 500 h.
def test_a_test_with_one_stop_stops_all_simulated_lives_there():
    lives = published("nist_8413").one_by_one()
    watching = watching_of(SeenLives(*lives.arguments()[:5]), 1)
    drawn = simulated(watching, np.array([1.7]), np.array([600.0]), 100, Streams(6, ["a"]))
    assert_array_equal(np.unique(drawn.low[~drawn.is_failed]), [500.0])
    assert drawn.low.max() == 500.0
    assert_array_equal(np.bincount(drawn.stratum, drawn.count), np.full(100, 20.0))
