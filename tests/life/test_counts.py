"""Mixtures of counts with two known moments."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life.counts import count_probability, count_quantile, count_range, count_ranges


@pytest.mark.parametrize(
    ("law", "name"),
    [
        (stats.binom(20, 0.15), "binomial"),
        (stats.poisson(3.2), "poisson"),
        (stats.nbinom(4, 0.4), "negative binomial"),
        (stats.poisson(0.01), "rare"),
        (stats.nbinom(2, 0.01), "large"),
    ],
)
def test_count_probability_agrees_with_scipy(law, name):
    mean, variance = np.array([law.mean()]), np.array([law.var()])
    for count in (0, 1, 3, 7, 30):
        assert_allclose(count_probability(count, mean, variance), law.cdf(count), rtol=1e-9)


def test_count_probability_of_no_demand_is_certain():
    assert count_probability(0, np.zeros(1), np.zeros(1)).tolist() == [1.0]


@pytest.mark.parametrize("probability", [0.05, 0.5, 0.9, 0.95, 0.999])
def test_count_quantile_of_a_mixture_agrees_with_a_search_through_the_sum(probability):
    rng = np.random.default_rng(7)
    mean = rng.gamma(2.0, 3.0, 40)
    variance = mean * rng.uniform(0.5, 2.0, 40)
    weights = rng.dirichlet(np.ones(40))
    total, count = 0.0, -1
    while total < probability:
        count += 1
        total = float(weights @ count_probability(count, mean, variance))
    assert count_quantile(mean, variance, probability, weights) == count


@pytest.mark.parametrize(
    "chances",
    [np.array([0.3]), np.full(12, 0.2), np.linspace(0.02, 0.2, 60), np.r_[np.full(40, 0.05), 0.5]],
)
def test_two_moments_are_close_to_the_exact_convolution(chances):
    exact = np.array([1.0])
    for chance in chances:
        exact = np.convolve(exact, [1 - chance, chance])
    mean, variance = np.array([chances.sum()]), np.array([(chances * (1 - chances)).sum()])
    found = np.array([count_probability(k, mean, variance)[0] for k in range(exact.size)])
    mass = np.diff(found, prepend=0.0)
    assert np.abs(mass - exact).sum() / 2 <= 0.01


# Example of spares with Poisson demand at mean 3: 1 - sum of exp(-3) 3^k / k!, any Poisson table.
@pytest.mark.parametrize(("level", "stock"), [(0.4231, 2), (0.4232, 3), (0.95, 6), (0.99, 8)])
def test_count_quantile_at_the_edges_of_a_poisson_table(level, stock):
    assert count_quantile(np.array([3.0]), np.array([3.0]), level) == stock


def test_count_range_holds_its_content():
    mean = np.array([4.0, 9.0])
    low, high = count_range(mean, mean, 0.90)
    inside = (count_probability(high, mean, mean) - count_probability(low - 1, mean, mean)).mean()
    assert inside >= 0.90


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.99])
def test_ranges_of_many_mixtures_are_the_ranges_of_each(confidence):
    rng = np.random.default_rng(3)
    scale = np.r_[np.zeros(3), 10.0 ** rng.uniform(-4, 2.3, 300)][:, None]
    mean = scale * rng.gamma(3.0, 0.4, (scale.size, 25))
    ratio = np.where(rng.random(mean.shape) < 0.2, 1.0, rng.uniform(0.3, 4.0, mean.shape))
    lower, upper = count_ranges(mean, mean * ratio, confidence)
    each = [count_range(m, m * r, confidence) for m, r in zip(mean, ratio, strict=True)]
    assert list(zip(lower.tolist(), upper.tolist(), strict=True)) == each
