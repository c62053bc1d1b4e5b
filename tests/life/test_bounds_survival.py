"""Bounds of mean life and survival against the likelihood read on a fine grid."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.errors import FitError
from etl.life.bounds import likelihood_ratio_bounds, normal_bounds
from etl.life.bounds_survival import (
    likelihood_ratio_mean,
    likelihood_ratio_survival,
    normal_mean,
    normal_survival,
)
from etl.life.fit import fit_arranged
from etl.life.strata import arrange_strata
from etl.life.weibull import cumulative_hazard, mean_life, survival
from tests.life.strata_maker import make_lives

INF = np.inf


def fitted(lives):
    strata = arrange_strata(*lives)
    return strata, fit_arranged(strata)


def region(lives, k, bounds, level, wanted=700):
    """Return shapes and lives on the contour of one stratum: a dense, independent tracing."""
    columns = [column[lives[0] == k] for column in lives[1:5]]
    shapes = np.exp(np.linspace(*np.log([bounds.shape.lower[k], bounds.shape.upper[k]]),
                                wanted + 2))[1:-1]
    centre = np.log(columns[1].max())

    def excess(m):
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            return np.nan_to_num(sum(
                log_likelihood_row(shapes, np.exp(m), *row) for row in zip(*columns, strict=True)),
                nan=-INF) - level

    reach = 60.0 / shapes + 3.0
    peak = golden(excess, centre - reach, centre + reach)
    ends = []
    for side in (-1.0, 1.0):
        inside, outside = peak.copy(), peak + side * reach
        for _ in range(70):
            middle = 0.5 * (inside + outside)
            is_in = excess(middle) >= 0.0
            inside, outside = np.where(is_in, middle, inside), np.where(is_in, outside, middle)
        ends.append(inside)
    held = excess(peak) >= 0.0
    return (np.concatenate([shapes[held], shapes[held]]),
            np.exp(np.concatenate([end[held] for end in ends])))


def golden(function, low, high):
    ratio = 0.5 * (np.sqrt(5.0) - 1.0)
    for _ in range(90):
        one, two = high - ratio * (high - low), low + ratio * (high - low)
        right = function(two) > function(one)
        low, high = np.where(right, one, low), np.where(right, high, two)
    return 0.5 * (low + high)


def log_likelihood_row(shape, life, entry, low, high, count):
    value = cumulative_hazard(entry, shape, life) - cumulative_hazard(low, shape, life)
    if high == low:
        value = value + np.log(shape / life) + (shape - 1.0) * np.log(low / life)
    elif np.isfinite(high):
        spent = cumulative_hazard(high, shape, life) - cumulative_hazard(low, shape, life)
        value = value + np.log(-np.expm1(-spent))
    return count * value


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.4, 0.0), (0.0, 0.5), (0.4, 0.5)])
@pytest.mark.parametrize("n_lives", [6, 25])
def test_bounds_are_the_extremes_on_the_contour(late, interval, n_lives):
    lives = make_lives(71, 6, n_lives, late, interval, (0.5, 3.0))
    strata, fit = fitted(lives)
    confidence, ages = 0.90, np.array([50.0, 400.0, 3000.0])
    shape = likelihood_ratio_bounds(strata, fit, confidence)
    mean = likelihood_ratio_mean(strata, fit, confidence)
    held = likelihood_ratio_survival(strata, fit, ages, confidence)
    checked = 0
    for k in np.flatnonzero(fit.has_estimate & np.isfinite(shape.shape.upper)
                            & (shape.shape.lower > 0.0)):
        level = fit.log_likelihood[k] - 0.5 * stats.chi2.ppf(confidence, 1)
        shapes, scales = region(lives, k, shape, level)
        with np.errstate(over="ignore"):
            means = mean_life(shapes, scales)
        assert_allclose([mean.lower[k], mean.upper[k]], [means.min(), means.max()], rtol=2e-3)
        for j, age in enumerate(ages):
            values = survival(age, shapes, scales)
            assert_allclose([held.lower[k, j], held.upper[k, j]], [values.min(), values.max()],
                            rtol=2e-3, atol=2e-5)
        checked += 1
    assert checked >= 2


def test_normal_bounds_match_slopes_taken_by_differences():
    strata, fit = fitted(make_lives(72, 5, 30))
    ages = np.array([100.0, 1000.0])
    covariance = np.linalg.inv(fit.information)
    reach, step = stats.norm.ppf(0.95), 1e-6
    mean, held = normal_mean(fit), normal_survival(fit, ages)

    def error(figure, k):
        point = np.log([fit.shape[k], fit.characteristic_life[k]])
        slope = [(figure(*np.exp(point + move)) - figure(*np.exp(point - move))) / (2 * step)
                 for move in (np.array([step, 0.0]), np.array([0.0, step]))]
        return reach * np.sqrt(slope @ covariance[k] @ slope)

    for k in range(5):
        estimate = fit.shape[k], fit.characteristic_life[k]
        half = error(lambda b, life: np.log(mean_life(b, life)), k)
        assert_allclose([mean.lower[k], mean.upper[k]],
                        mean_life(*estimate) * np.exp([-half, half]), rtol=1e-6)
        for j, age in enumerate(ages):
            half = error(lambda b, life, age=age: np.log(cumulative_hazard(age, b, life)), k)
            hazard = cumulative_hazard(age, *estimate) * np.exp([half, -half])
            assert_allclose([held.lower[k, j], held.upper[k, j]], np.exp(-hazard), rtol=1e-6)


@pytest.mark.parametrize("kind", ["likelihood ratio", "normal"])
def test_bounds_widen_with_confidence_and_hold_the_estimate(kind):
    strata, fit = fitted(make_lives(73, 20, 12, 0.3, 0.3))
    ages = [10.0, 500.0, 4000.0]
    before = None
    for confidence in (0.5, 0.8, 0.9, 0.95, 0.99):
        if kind == "normal":
            found = normal_mean(fit, confidence), normal_survival(fit, ages, confidence)
        else:
            found = (likelihood_ratio_mean(strata, fit, confidence),
                     likelihood_ratio_survival(strata, fit, ages, confidence))
        known = fit.has_estimate
        for now, estimate in zip(found, (
                mean_life(fit.shape, fit.characteristic_life),
                survival(np.array(ages), fit.shape[:, None], fit.characteristic_life[:, None])),
                strict=True):
            assert np.all((now.lower <= estimate + 1e-12)[known])
            assert np.all((estimate <= now.upper + 1e-12)[known])
            assert np.all(np.isnan(now.lower[~known]) & np.isnan(now.upper[~known]))
        if before is not None:
            for now, then in zip(found, before, strict=True):
                assert np.all((now.lower <= then.lower + 1e-12)[known])
                assert np.all((now.upper >= then.upper - 1e-12)[known])
        before = found
    assert known.sum() >= 15


@pytest.mark.parametrize("factor", [1e-3, 24.0, 86_400.0])
def test_bounds_follow_the_unit_of_the_ages(factor):
    key, entry, low, high, count, n = make_lives(74, 8, 15, 0.3, 0.3)
    ages = np.array([100.0, 2000.0])
    one = fitted((key, entry, low, high, count, n))
    other = fitted((key, entry * factor, low * factor, high * factor, count, n))
    pairs = [
        (likelihood_ratio_mean(*one), likelihood_ratio_mean(*other), factor),
        (normal_mean(one[1]), normal_mean(other[1]), factor),
        (likelihood_ratio_survival(*one, ages), likelihood_ratio_survival(*other, ages * factor),
         1.0),
        (normal_survival(one[1], ages), normal_survival(other[1], ages * factor), 1.0),
        (likelihood_ratio_bounds(*one).b_life, likelihood_ratio_bounds(*other).b_life, factor),
        (normal_bounds(one[1]).b_life, normal_bounds(other[1]).b_life, factor),
        (likelihood_ratio_bounds(*one).shape, likelihood_ratio_bounds(*other).shape, 1.0),
    ]
    for here, there, scale in pairs:
        assert_allclose(there.lower, here.lower * scale, rtol=1e-6)
        assert_allclose(there.upper, here.upper * scale, rtol=1e-6)


def test_survival_bounds_are_those_of_the_age_turned_round():
    """Survival to a bound of B10 has 0.90 for a bound itself: one contour read both ways."""
    strata, fit = fitted(make_lives(75, 6, 20))
    b10 = likelihood_ratio_bounds(strata, fit, 0.90, (0.1,)).b_life
    held = likelihood_ratio_survival(strata, fit, np.stack([b10.lower[:, 0], b10.upper[:, 0]], 1))
    assert_allclose(held.lower[:, 0], 0.9, rtol=1e-7)
    assert_allclose(held.upper[:, 1], 0.9, rtol=1e-7)


def test_survival_to_age_nought_is_certain():
    strata, fit = fitted(make_lives(76, 2, 20))
    for bounds in (likelihood_ratio_survival(strata, fit, [0.0]), normal_survival(fit, [0.0])):
        assert np.all(bounds.lower == 1.0)
        assert np.all(bounds.upper == 1.0)


def test_open_ends_are_said_to_be_open():
    """Late entries with a hazard near 1 / age: shape 0 is within the bounds."""
    rng = np.random.default_rng(8)
    entry = rng.uniform(50.0, 100.0, 12)
    age = entry * np.exp(rng.exponential(0.8, 12))
    strata, fit = fitted((np.zeros(12, int), entry, age, age, 1.0, 1))
    assert likelihood_ratio_survival(strata, fit, [100.0], 0.99).lower[0, 0] == 0.0
    assert likelihood_ratio_mean(strata, fit, 0.99).lower[0] == 0.0


@pytest.mark.parametrize("ages", [[-1.0], [np.nan], [INF], 5.0])
def test_ages_must_be_numbers(ages):
    strata, fit = fitted(make_lives(77, 1, 20))
    with pytest.raises(FitError, match="ages must be numbers"):
        likelihood_ratio_survival(strata, fit, ages)


@pytest.mark.slow
def test_likelihood_ratio_bounds_of_mean_and_survival_cover_as_stated():
    rng = np.random.default_rng(78)
    k, n = 3000, 25
    age = 1000.0 * rng.weibull(1.5, (k, n))
    stop = rng.uniform(300.0, 2500.0, (k, n))
    low, high = np.minimum(age, stop).ravel(), np.where(age <= stop, age, INF).ravel()
    strata, fit = fitted((np.repeat(np.arange(k), n), 0.0, low, high, 1.0, k))
    for bounds, true in ((likelihood_ratio_mean(strata, fit), mean_life(1.5, 1000.0)),
                         (likelihood_ratio_survival(strata, fit, [500.0]),
                          survival(500.0, 1.5, 1000.0))):
        inside = (np.ravel(bounds.lower) <= true) & (true <= np.ravel(bounds.upper))
        assert 0.87 <= inside.mean() <= 0.92
