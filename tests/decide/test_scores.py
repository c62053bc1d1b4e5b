"""Scores of forecasts against published formulas and simulated worlds; wrong ones must fail."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import special, stats

from etl.decide.scores import (
    brier_score,
    count_crps,
    is_covered,
    mean_pinball,
    pinball_loss,
    randomised_pit,
    ratio_bounds,
)
from etl.life.count_forecasts import mixture_counts


def poisson(mean):
    mean = np.atleast_1d(np.asarray(mean, float))[:, None]
    return mixture_counts(mean, mean)


def uniforms(n):
    return np.random.default_rng(11).uniform(size=n)


@pytest.mark.parametrize("mean", [0.3, 2.0, 15.0, 250.0])
def test_crps_of_poisson_in_closed_form_jordan_krueger_lerch_2019_from_memory(mean):
    observed = np.array([0, int(mean), int(mean + 3 * mean**0.5) + 1, int(2 * mean) + 40])
    law = stats.poisson(mean)
    wanted = (
        (observed - mean) * (2 * law.cdf(observed) - 1) + 2 * mean * law.pmf(observed)
        - mean * (special.ive(0, 2 * mean) + special.ive(1, 2 * mean))
    )
    found = count_crps(poisson(np.full(observed.size, mean)), observed)
    assert_allclose(found, wanted, rtol=1e-5, atol=1e-6)


def test_crps_is_mean_distance_less_half_the_spread_gneiting_raftery_2007_from_memory():
    mean, variance, observed = 3.0, 8.0, 9
    law = stats.nbinom(mean**2 / (variance - mean), mean / variance)
    x = np.arange(400)
    p = law.pmf(x)
    wanted = p @ np.abs(x - observed) - 0.5 * p @ np.abs(x[:, None] - x) @ p
    kept = mixture_counts(np.array([[mean]]), np.array([[variance]]))
    assert_allclose(count_crps(kept, np.array([observed])), wanted, rtol=1e-5)


def test_crps_of_a_certain_forecast_is_the_distance():
    kept = mixture_counts(np.zeros((3, 1)), np.zeros((3, 1)))
    assert count_crps(kept, np.array([0, 1, 5])).tolist() == [0.0, 1.0, 5.0]


def test_right_forecasts_score_best_on_average():
    rng = np.random.default_rng(3)
    truth = rng.gamma(2.0, 3.0, size=4000)
    observed = rng.poisson(truth)
    right = poisson(truth)
    for wrong in (1.3 * truth, 0.75 * truth, np.full(truth.size, truth.mean())):
        assert count_crps(right, observed).mean() < count_crps(poisson(wrong), observed).mean()
        assert mean_pinball(right, observed).mean() < mean_pinball(poisson(wrong), observed).mean()


def test_pinball_loss_is_least_at_the_quantile_scipy():
    draws = stats.norm(20, 5).rvs(20_000, random_state=1)
    at = np.linspace(5, 35, 121)
    for level in (0.1, 0.5, 0.95):
        loss = [pinball_loss(np.full(draws.size, q), draws, level).mean() for q in at]
        assert abs(at[int(np.argmin(loss))] - stats.norm.ppf(level, 20, 5)) < 0.5


def test_pit_of_right_forecasts_is_even_and_of_wrong_ones_is_not():
    rng = np.random.default_rng(8)
    truth = rng.gamma(1.5, 2.0, size=5000)
    even = stats.kstest(randomised_pit(poisson(truth), rng.poisson(truth), uniforms(5000)),
                        "uniform").pvalue
    assert even > 0.01
    spread = rng.poisson(truth * rng.gamma(2.0, 0.5, size=truth.size))
    for wrong, observed in ((1.2 * truth, rng.poisson(truth)), (truth, spread)):
        pit = randomised_pit(poisson(wrong), observed, uniforms(5000))
        assert stats.kstest(pit, "uniform").pvalue < 1e-6


def test_coverage_by_pit_is_right_where_printed_ranges_hold_too_much():
    rng = np.random.default_rng(21)
    mean = np.full(20_000, 0.6)
    observed = rng.poisson(mean)
    kept = poisson(mean)
    for content in (0.5, 0.9):
        pit = randomised_pit(kept, observed, uniforms(mean.size))
        error = 3 * (content * (1 - content) / mean.size) ** 0.5
        assert abs(is_covered(pit, content).mean() - content) < error
    printed = (observed >= kept.quantile(0.05)) & (observed <= kept.quantile(0.95))
    assert printed.mean() > 0.95


def test_too_narrow_forecasts_do_not_cover():
    rng = np.random.default_rng(4)
    common = rng.lognormal(0.0, 0.3, size=3000)
    observed = rng.poisson(40 * common)
    narrow = randomised_pit(poisson(np.full(3000, 40.0)), observed, uniforms(3000))
    wide = np.repeat(40 * rng.lognormal(0.0, 0.3, size=(1, 40)), 3000, axis=0)
    right = randomised_pit(mixture_counts(wide, wide), observed, uniforms(3000))
    assert is_covered(narrow, 0.9).mean() < 0.75
    assert 0.85 < is_covered(right, 0.9).mean() < 0.95


def test_brier_score_is_least_for_the_true_chance():
    rng = np.random.default_rng(6)
    truth = rng.uniform(0.02, 0.6, size=20_000)
    happened = rng.uniform(size=truth.size) < truth
    assert_allclose(brier_score(np.array([0.3, 0.3]), np.array([True, False])), [0.49, 0.09])
    right = brier_score(truth, happened).mean()
    assert_allclose(right, (truth * (1 - truth)).mean(), rtol=0.03)  # its expectation
    for wrong in (np.full(truth.size, happened.mean()), truth**2, np.sqrt(truth)):
        assert brier_score(wrong, happened).mean() > right


def overlapping(rng, n_months, window):
    """Return means of windows that start every month of a series of even noise."""
    noise = rng.normal(1.0, 1.0, size=n_months + window - 1)
    return np.convolve(noise, np.full(window, 1.0 / window), "valid")


@pytest.mark.parametrize(("block", "least", "most"), [(6, 0.72, 0.95), (1, 0.0, 0.60)])
def test_blocks_hold_the_true_mean_of_overlapping_windows_and_single_months_do_not(
    block, least, most
):
    rng = np.random.default_rng(17)
    held = []
    for seed in range(300):
        series = overlapping(rng, 48, 6)
        lower, upper = ratio_bounds(series, np.ones(48), block=block, confidence=0.9, seed=seed,
                                    n_repeats=199)
        held.append(lower <= 1.0 <= upper)
    assert least < np.mean(held) < most


def test_range_of_a_ratio_agrees_with_its_large_sample_error():
    rng = np.random.default_rng(2)
    above, below = rng.poisson(30, size=400).astype(float), rng.poisson(50, size=400).astype(float)
    ratio = above.sum() / below.sum()
    error = np.sqrt(((above - ratio * below) ** 2).sum()) / below.sum()  # delta method
    found = ratio_bounds(above, below, block=1, confidence=0.9, seed=1)
    assert_allclose(found, ratio + error * stats.norm.ppf([0.05, 0.95]), atol=0.1 * error * 2)


def test_no_range_of_nothing():
    assert np.isnan(ratio_bounds(np.zeros(0), np.zeros(0), block=1, confidence=0.9, seed=1)).all()
    zero = ratio_bounds(np.ones(5), np.zeros(5), block=1, confidence=0.9, seed=1)
    assert np.isnan(zero).all()
