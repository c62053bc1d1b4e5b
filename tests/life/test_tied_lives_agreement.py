"""Lives with ties, found failures and late entries at once, against general-purpose libraries."""

import warnings

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import optimize, stats

from etl.life.fit import fit_strata
from etl.life.plotting import library_fit, plot_points
from tests.life.strata_maker import make_lives


def tied(seed, n, late=0.0, interval=0.0, grid=100.0):
    """Return lives rounded so that failures, suspensions and entries tie; none without time."""
    _, entry, low, high, _, _ = make_lives(seed, 1, n, late, interval, (0.9, 3.5))
    entry = np.floor(entry / grid) * grid
    exact, held = low == high, np.isinf(high)
    low = np.where(exact | held, np.ceil(low / grid), np.floor(low / grid)) * grid
    low = np.maximum(low, entry)
    high = np.where(held, np.inf, np.where(exact, low, np.ceil(high / grid) * grid))
    seen = (high > entry) & ~(held & (low <= entry))
    return entry[seen], low[seen], high[seen]


def fitted(entry, low, high):
    fit = fit_strata(np.zeros(low.size, int), entry, low, high, 1.0, 1)
    assert fit.has_estimate[0]
    return fit


def by_scipy(entry, low, high):
    """Return shape, life and log-likelihood by a general search on scipy's own distribution."""
    exact, held = low == high, np.isinf(high)
    span = ~exact & ~held
    scale = low.max()

    def loss(theta):
        law = stats.weibull_min(np.exp(theta[0]), scale=scale * np.exp(theta[1]))
        with np.errstate(all="ignore"):
            value = (law.logpdf(low[exact]).sum() + law.logsf(low[held]).sum()
                     + np.log(law.cdf(high[span]) - law.cdf(low[span])).sum()
                     - law.logsf(entry).sum())
        return -value if np.isfinite(value) else 1e10

    options = {"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000, "maxfev": 4000}
    found = min((optimize.minimize(loss, start, method="Nelder-Mead", options=options)
                 for start in ([0.3, 0.0], [1.0, -0.5])), key=lambda one: one.fun)
    return np.exp(found.x[0]), scale * np.exp(found.x[1]), -found.fun


@settings(max_examples=12, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), late=st.sampled_from([0.0, 0.3]),
       interval=st.sampled_from([0.0, 0.5]), n=st.integers(25, 60))
def test_scipy_reaches_the_same_peak(seed, late, interval, n):
    lives = tied(seed, n, late, interval)
    assume(np.isfinite(lives[2]).sum() >= 8)
    fit = fit_strata(np.zeros(lives[1].size, int), *lives, 1.0, 1)
    assume(fit.has_estimate[0])
    shape, life, value = by_scipy(*lives)
    assert fit.log_likelihood[0] == pytest.approx(value, abs=1e-7)
    assert_allclose([fit.shape[0], fit.characteristic_life[0]], [shape, life], rtol=1e-4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_reliability_agrees_on_ties_of_failures_and_suspensions(seed):
    _, low, high = tied(seed, 60)
    failed = np.isfinite(high)
    assert np.unique(low).size < low.size
    fit = fitted(np.zeros(low.size), low, high)
    assert_allclose([fit.shape[0], fit.characteristic_life[0]],
                    library_fit(low[failed], low[~failed]), rtol=5e-4)


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.4, 0.0), (0.0, 0.5)])
def test_surpyval_agrees_on_ties_late_entries_and_intervals(late, interval):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import surpyval
        entry, low, high = tied(7, 80, late, interval)
        code = np.where(np.isinf(high), 1, np.where(low == high, 0, 2))
        ages = [[a, b] if c == 2 else a for a, b, c in zip(low, high, code, strict=True)]
        other = surpyval.Weibull.fit(ages if interval else low, c=code,
                                     tl=entry if late else None)
    life, shape = other.params
    fit = fitted(entry, low, high)
    assert_allclose([fit.shape[0], fit.characteristic_life[0]], [shape, life], rtol=5e-4)


def test_lifelines_agrees_on_found_failures():
    from lifelines import WeibullFitter
    _, low, high = tied(9, 80, interval=0.6, grid=50.0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = WeibullFitter().fit_interval_censoring(low, high)
    fit = fitted(np.zeros(low.size), low, high)
    assert fit.log_likelihood[0] == pytest.approx(other.log_likelihood_, abs=1e-4)
    assert_allclose([fit.shape[0], fit.characteristic_life[0]], [other.rho_, other.lambda_],
                    rtol=1e-3)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of pandas, inside lifelines
@pytest.mark.parametrize("late", [0.0, 0.4])
def test_lifelines_gives_the_product_limit_of_tied_lives(late):
    from lifelines import KaplanMeierFitter
    entry, low, high = tied(11, 70, late)
    points = plot_points(np.zeros(low.size, int), entry, low, high, 1.0, 1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = KaplanMeierFitter().fit(low, np.isfinite(high), entry=entry if late else None)
    ages, last = np.unique(points.age[::-1], return_index=True)
    ours = points.survival[::-1][last]  # after the last failure of each age
    assert_allclose(ours, other.survival_function_at_times(ages), rtol=1e-9, atol=1e-12)
