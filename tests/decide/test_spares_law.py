"""The law of a part's demand, against convolution and mixtures worked out another way."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from etl.decide.spares.law import demand_law, merged
from etl.life.counts import count_quantile

ONE = np.ones(1)


def convolved(chances: np.ndarray) -> np.ndarray:
    """Return the law of how many of some places fail, each once at most, place by place."""
    law = np.ones(1)
    for chance in chances:
        law = np.convolve(law, [1.0 - chance, chance])
    return law


def scipy_law(mean: float, variance: float):
    if variance < mean:
        chance = 1.0 - variance / mean
        return stats.binom(round(mean / chance), chance)
    if variance == mean:
        return stats.poisson(mean)
    return stats.nbinom(mean**2 / (variance - mean), mean / variance)


@pytest.mark.parametrize("n", [4, 12, 60])
def test_like_places_are_exactly_their_convolution(n):
    law = convolved(np.full(n, 0.15))
    found = demand_law(np.array([0.15 * n]), np.array([0.15 * 0.85 * n]), ONE)
    assert_allclose(found.cumulative[: n + 1], np.cumsum(law)[: found.cumulative.size], atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_unlike_places_keep_to_their_convolution_within_one_hose(seed):
    rng = np.random.default_rng(seed)
    chances = rng.beta(1.0, 4.0, int(rng.integers(3, 60)))
    exact = np.cumsum(convolved(chances))
    found = demand_law(np.array([chances.sum()]), np.array([(chances * (1 - chances)).sum()]), ONE)
    for level in (0.8, 0.9, 0.95, 0.99):
        assert abs(found.level(level) - int(np.searchsorted(exact, level))) <= 1
    n = min(exact.size, found.cumulative.size)
    assert_allclose(found.cumulative[:n], exact[:n], atol=0.03)


def test_a_mixture_over_draws_and_lead_times_is_the_sum_of_its_laws():
    mean, variance = np.array([1.0, 2.0, 6.0, 9.0]), np.array([1.0, 3.0, 6.0, 20.0])
    weights = np.array([0.4, 0.3, 0.2, 0.1])
    k = np.arange(40)
    exact = sum(w * scipy_law(m, v).cdf(k) for w, m, v in zip(weights, mean, variance, strict=True))
    found = demand_law(mean, variance, weights)
    assert_allclose(found.cumulative[:40], exact[: found.cumulative.size], atol=1e-12)
    served = sum(float(1.0 - exact[i]) for i in range(7)) / float(weights @ mean)
    assert found.share_served(7) == pytest.approx(served)


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_merging_keeps_mean_and_variance(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(1, 400))
    mean, weights = rng.gamma(2.0, 3.0, n), rng.dirichlet(np.ones(n))
    variance = mean * rng.uniform(0.5, 3.0, n)
    m, v, w = merged(mean, variance, weights)
    assert m.size <= 48
    assert_allclose(w.sum(), 1.0)
    assert_allclose(w @ m, weights @ mean, rtol=1e-9)
    assert_allclose(w @ (v + m**2), weights @ (variance + mean**2), rtol=1e-9)


def test_levels_of_merged_classes_are_those_of_the_whole_mixture():
    rng = np.random.default_rng(3)
    same = []
    for _ in range(150):
        size = rng.uniform(0.2, 40.0)
        draws = size * rng.lognormal(0.0, 0.25, 60)
        mean = np.outer(draws, rng.gamma(8.0, 1 / 8.0, 9)).ravel()
        variance = mean * rng.uniform(0.6, 1.6)
        weights = np.full(mean.size, 1.0 / mean.size)
        level = rng.choice([0.9, 0.95, 0.99])
        step = demand_law(mean, variance, weights).level(level) - count_quantile(
            mean, variance, level, weights)
        assert abs(step) <= 1
        same.append(step == 0)
    assert np.mean(same) >= 0.97


@pytest.mark.parametrize("mean", [400.0, 3000.0])
def test_large_demands_do_not_underflow(mean):
    found = demand_law(np.array([mean]), np.array([mean]), ONE)
    assert found.level(0.95) == stats.poisson(mean).ppf(0.95)


def test_no_demand_asks_for_nothing_and_serves_everything():
    law = demand_law(np.zeros(3), np.zeros(3), np.full(3, 1 / 3))
    assert (law.level(0.99), law.at_most(0), law.share_served(0), law.at_most(-1)) == (0, 1, 1, 0)


def test_a_certain_planned_change_asks_for_exactly_one():
    law = demand_law(np.array([1.0]), np.array([0.0]), ONE)
    assert law.level(0.90) == 1
    assert law.at_most(0) < 0.01


def test_what_is_not_known_of_the_lives_asks_for_more():
    mean = 6.0 * np.random.default_rng(1).lognormal(0.0, 0.5, 400)
    unsure = demand_law(mean, mean, np.full(400, 1 / 400))
    sure = demand_law(np.array([mean.mean()]), np.array([mean.mean()]), ONE)
    assert unsure.level(0.95) > sure.level(0.95)
