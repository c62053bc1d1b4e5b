"""Plot points, rank regression and comparison of distributions against libraries and identities."""

import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.errors import FitError
from etl.life.compare_distributions import compare_distributions
from etl.life.fit import fit_strata
from etl.life.lognormal import fit_lognormal
from etl.life.plotting import library_fit, plot_points, rank_regression
from tests.life.strata_maker import make_lives

INF = np.inf


def johnson(ages, failed):
    """Adjusted ranks one by one, by the textbook recursion."""
    order = sorted(range(len(ages)), key=lambda i: (ages[i], not failed[i]))
    n, rank, ranks = len(ages), 0.0, []
    for place, i in enumerate(order):
        if failed[i]:
            rank += (n + 1 - rank) / (1 + n - place)
            ranks.append(rank)
    return ranks


def test_adjusted_ranks_follow_the_recursion_in_every_stratum():
    lives = make_lives(41, 6, 25)
    points = plot_points(*lives)
    stratum, _, low, high, _, _ = lives
    for k in range(6):
        rows = stratum == k
        expected = johnson(low[rows].tolist(), np.isfinite(high[rows]).tolist())
        assert_allclose(points.adjusted_rank[points.stratum == k], expected, rtol=1e-12)


def test_product_limit_agrees_with_lifelines_late_entries_included():
    from lifelines import KaplanMeierFitter
    stratum, entry, low, high, count, n = make_lives(42, 3, 40, late=0.4)
    entry = np.minimum(entry, 0.98 * low)
    points = plot_points(stratum, entry, low, high, count, n)
    for k in range(3):
        rows = stratum == k
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            other = KaplanMeierFitter().fit(low[rows], np.isfinite(high[rows]), entry=entry[rows])
        ours = points.stratum == k
        assert_allclose(points.survival[ours],
                        other.survival_function_at_times(points.age[ours]), rtol=1e-9, atol=1e-12)


def test_intervals_are_drawn_at_their_middle():
    points = plot_points([0, 0], 0.0, [10.0, 40.0], [20.0, 40.0], 1.0, 1)
    assert points.age.tolist() == [15.0, 40.0]
    assert points.is_interval.tolist() == [True, False]


def test_points_of_no_failures_are_none():
    assert plot_points([0, 0], 0.0, [10.0, 40.0], [INF, INF], 1.0, 1).age.size == 0
    line = rank_regression(plot_points([0], 0.0, [10.0], [10.0], 1.0, 2), 2)
    assert np.isnan(line.shape_x_on_y).all()
    assert np.isnan(line.characteristic_life_y_on_x).all()


def test_an_interval_that_opens_before_the_entry_is_one_from_the_entry():
    """Its middle may lie before the entry, when the life was not at risk yet."""
    lives = [0.0, 50.0, 0.0], [10.0, 0.0, 80.0], [10.0, 60.0, INF]
    points = plot_points([0] * 3, *lives, 1.0, 1)
    assert_allclose(points.age, [10.0, 55.0])
    assert np.all(points.failure_probability < 1.0)
    assert_allclose(points.survival, [0.5, 0.25])


@pytest.mark.parametrize("method", ["RRX", "RRY"])
def test_rank_regression_agrees_with_the_library(method):
    lives = make_lives(43, 1, 40)
    line = rank_regression(plot_points(*lives), 1)
    failed = np.isfinite(lives[3])
    ours = {"RRX": (line.shape_x_on_y[0], line.characteristic_life_x_on_y[0]),
            "RRY": (line.shape_y_on_x[0], line.characteristic_life_y_on_x[0])}[method]
    assert_allclose(ours, library_fit(lives[2][failed], lives[2][~failed], method), rtol=1e-6)


def test_library_is_not_asked_about_one_failure_age():
    with pytest.raises(FitError, match="at least 2 different failure ages"):
        library_fit([5.0, 5.0], [6.0])


def test_library_finds_the_optimum_where_its_default_search_stops_short():
    """Three failures and 800 suspensions far beyond: checked against our exact fit."""
    failed, held = np.array([4.0, 4.0, 6.5]), np.full(800, 300.0)
    fit = fit_strata(np.zeros(803, int), 0.0, np.append(failed, held),
                     np.append(failed, np.full(800, INF)), 1.0, 1)
    shape, life = library_fit(failed, held)
    assert shape == pytest.approx(fit.shape[0], rel=2e-3)
    assert np.log(life) == pytest.approx(np.log(fit.characteristic_life[0]), rel=2e-3)


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.3, 0.0), (0.0, 0.5), (0.3, 0.5)])
def test_lognormal_stands_on_a_peak(late, interval):
    lives = make_lives(44, 5, 60, late, interval)
    fit = fit_lognormal(*lives, np.ones(5, bool))

    def value(k, mean, deviation):
        rows = lives[0] == k
        entry, low, high = (column[rows] for column in lives[1:4])
        law = stats.lognorm(deviation, scale=np.exp(mean))
        exact, held = high == low, np.isinf(high)
        span = ~exact & ~held
        until = np.maximum(low, entry)
        return (law.logpdf(low[exact]).sum() + law.logsf(low[held]).sum()
                + np.log(law.cdf(high[span]) - law.cdf(until[span])).sum()
                - law.logsf(entry[entry > 0]).sum())

    for k in range(5):
        if np.isnan(fit.log_mean[k]):
            continue
        mean, deviation = fit.log_mean[k], fit.log_deviation[k]
        top = value(k, mean, deviation)
        assert fit.log_likelihood[k] == pytest.approx(top, abs=1e-7)
        for step in (-1e-3, 1e-3):
            assert value(k, mean + step, deviation) < top
            assert value(k, mean, deviation * np.exp(step)) < top
    assert np.isfinite(fit.log_mean).sum() >= 4


def test_comparison_finds_the_distribution_the_lives_came_from():
    rng = np.random.default_rng(45)
    n = 3000
    ages = np.concatenate([1000.0 * rng.weibull(3.0, n), np.exp(6.0 + 0.9 * rng.normal(size=n)),
                           400.0 * rng.exponential(size=n)])
    stratum = np.repeat(np.arange(3), n)
    fit = fit_strata(stratum, 0.0, ages, ages, 1.0, 3)
    found = compare_distributions(stratum, 0.0, ages, ages, 1.0, 3, fit)
    assert found.best == ["weibull", "lognormal", "exponential"]
    assert found.is_clear.tolist()[:2] == [False, True]


def test_comparison_is_silent_without_an_estimate():
    fit = fit_strata([0, 0], 0.0, [5.0, 6.0], [INF, INF], 1.0, 2)
    found = compare_distributions([0, 0], 0.0, [5.0, 6.0], [INF, INF], 1.0, 2, fit)
    assert found.best == [None, None]
