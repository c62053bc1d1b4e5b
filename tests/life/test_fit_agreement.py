"""The batched fit against slow, plain second ways and against general-purpose libraries."""

import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats

from etl.life.fit import fit_strata
from etl.life.weibull import log_likelihood
from tests.life.strata_maker import make_lives


def of(lives, k):
    stratum, *columns, _ = lives
    return [column[stratum == k] for column in columns]


def direct_estimate(entry, low, high):
    """Shape and life by the root of the profile score, one stratum, plain sums."""
    failed = np.isfinite(high)
    scale = low.max()
    x, r = np.log(low / scale), failed.sum()
    late = entry > 0
    xe = np.log(entry[late] / scale)
    mean = x[failed].mean()

    def power_sum(b):
        return np.exp(b * x).sum() - np.exp(b * xe).sum()

    def score(b):
        first = (x * np.exp(b * x)).sum() - (xe * np.exp(b * xe)).sum()
        return 1.0 / b + mean - first / power_sum(b)

    def loss(u):
        return -(u + np.exp(u) * mean - np.log(power_sum(np.exp(u))))

    grid = np.log(np.geomspace(0.05, 80.0, 60))
    at = int(np.argmin([loss(u) for u in grid]))
    b = optimize.brentq(score, np.exp(grid[max(at - 1, 0)]),
                        np.exp(grid[min(at + 1, grid.size - 1)]), xtol=1e-14, rtol=1e-14)
    return b, scale * (power_sum(b) / r) ** (1.0 / b)


@pytest.mark.slow
@pytest.mark.parametrize("late", [0.0, 0.3], ids=["suspended", "suspended and late"])
def test_fit_agrees_with_direct_search_on_300_strata(late):
    lives = make_lives(11, 300, 60, late=late)
    fit = fit_strata(*lives)
    assert set(fit.status) <= {"ok", "few_failures"}
    direct = np.array([direct_estimate(*of(lives, k)[:3]) for k in range(300)])
    assert np.abs(np.log(fit.shape) - np.log(direct[:, 0])).max() <= 1e-8
    assert np.abs(np.log(fit.characteristic_life) - np.log(direct[:, 1])).max() <= 1e-8


def complex_log_likelihood(u, m, entry, low, high):
    """Log-likelihood of one stratum for complex parameters, written apart from the project."""
    b = np.exp(u)
    exact, held = high == low, np.isinf(high)
    span = ~exact & ~held

    def h(t):
        safe = np.where(t > 0, t, 1.0)
        return np.where(t > 0, np.exp(b * (np.log(safe) - m)), 0.0)

    total = (u + (b - 1.0) * np.log(low[exact]) - b * m).sum()
    total -= (h(low[exact]) - h(entry[exact])).sum() + (h(low[held]) - h(entry[held])).sum()
    until = np.maximum(low, entry)[span]
    total -= (h(until) - h(entry[span])).sum()
    return total + np.log(1.0 - np.exp(-(h(high[span]) - h(until)))).sum()


def slopes(u, m, *life):
    step = 1e-30
    return np.array([complex_log_likelihood(u + 1j * step, m, *life).imag / step,
                     complex_log_likelihood(u, m + 1j * step, *life).imag / step])


@pytest.mark.slow
@pytest.mark.parametrize("late", [0.0, 0.3], ids=["from new", "some late"])
def test_interval_fit_stands_on_the_peak_of_300_strata(late):
    lives = make_lives(12, 300, 40, late=late, interval=0.5)
    fit = fit_strata(*lives)
    assert set(fit.status) <= {"ok", "few_failures"}
    worst = 0.0
    for k in range(300):
        life = of(lives, k)[:3]
        u, m = np.log(fit.shape[k]), np.log(fit.characteristic_life[k])
        bend = np.stack([(slopes(u + 1e-5, m, *life) - slopes(u - 1e-5, m, *life)) / 2e-5,
                         (slopes(u, m + 1e-5, *life) - slopes(u, m - 1e-5, *life)) / 2e-5])
        assert_allclose(-bend, fit.information[k], rtol=1e-4, atol=1e-4)
        worst = max(worst, np.abs(np.linalg.solve(bend, slopes(u, m, *life))).max())
        value = complex_log_likelihood(u, m, *life).real
        assert fit.log_likelihood[k] == pytest.approx(value, abs=1e-8)
    assert worst <= 1e-7


def test_interval_peak_is_the_highest_found_by_a_wide_search():
    lives = make_lives(13, 12, 30, interval=0.6)
    fit = fit_strata(*lives)
    for k in range(12):
        life = of(lives, k)
        scale = np.log(life[1].max())

        def loss(p, life=life, scale=scale):
            return -log_likelihood(np.exp(p[0]), np.exp(p[1] + scale), *life)

        found = min((optimize.minimize(loss, start, method="Nelder-Mead",
                                       options={"xatol": 1e-10, "fatol": 1e-12})
                     for start in ([0.0, 0.0], [1.2, -0.5], [-0.5, 0.5])), key=lambda r: r.fun)
        assert fit.log_likelihood[k] == pytest.approx(-found.fun, abs=1e-7)
        assert np.log(fit.shape[k]) == pytest.approx(found.x[0], abs=1e-6)


@pytest.mark.parametrize("late", [0.0, 0.4])
def test_fit_agrees_with_lifelines(late):
    from lifelines import WeibullFitter
    lives = make_lives(14, 5, 80, late=late)
    fit = fit_strata(*lives)
    for k in range(5):
        entry, low, high, _ = of(lives, k)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            other = WeibullFitter().fit(low, np.isfinite(high), entry=entry)
        assert_allclose([fit.shape[k], fit.characteristic_life[k]],
                        [other.rho_, other.lambda_], rtol=2e-4)
        assert fit.log_likelihood[k] >= other.log_likelihood_ - 1e-7


@pytest.mark.parametrize("late", [0.0, 0.4])
def test_fit_agrees_with_surpyval(late):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import surpyval
    lives = make_lives(15, 4, 80, late=late)
    fit = fit_strata(*lives)
    for k in range(4):
        entry, low, high, _ = of(lives, k)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            other = surpyval.Weibull.fit(
                low, c=np.where(np.isfinite(high), 0, 1), tl=entry if late else None)
        life, shape = other.params
        assert_allclose([fit.shape[k], fit.characteristic_life[k]], [shape, life], rtol=2e-4)


def test_fit_agrees_with_scipy_intervals_included():
    lives = make_lives(16, 4, 80, interval=0.5)
    fit = fit_strata(*lives)
    for k in range(4):
        _, low, high, _ = of(lives, k)
        exact, held = high == low, np.isinf(high)
        span = ~exact & ~held
        data = stats.CensoredData(low[exact], right=low[held],
                                  interval=np.column_stack([low[span], high[span]]))
        shape, _, life = stats.weibull_min.fit(data, 1.5, floc=0, scale=low.max() / 2)
        assert_allclose([fit.shape[k], fit.characteristic_life[k]], [shape, life], rtol=2e-4)


def test_fit_agrees_with_reliability_through_its_wrapper():
    from etl.life.plotting import library_fit
    lives = make_lives(17, 3, 60)
    fit = fit_strata(*lives)
    for k in range(3):
        _, low, high, _ = of(lives, k)
        failed = np.isfinite(high)
        assert_allclose([fit.shape[k], fit.characteristic_life[k]],
                        library_fit(low[failed], low[~failed]), rtol=5e-4)
