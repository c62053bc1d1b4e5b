"""Distributions of counts kept for later scoring, against SciPy's laws and full mixtures."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life.count_forecasts import mixture_counts


@pytest.mark.parametrize("mean", [0.02, 1.0, 7.5, 39.0, 180.0, 5_000.0])
def test_one_part_of_equal_moments_is_poisson_scipy(mean):
    kept = mixture_counts(np.array([[mean]]), np.array([[mean]]))
    counts = np.arange(0, int(mean + 8 * mean**0.5 + 8))
    found = [kept.at_most(np.array([count]))[0] for count in counts]
    assert_allclose(found, stats.poisson.cdf(counts, mean), atol=2e-7)
    for level in (0.05, 0.25, 0.5, 0.75, 0.95):
        assert kept.quantile(level)[0] == stats.poisson.ppf(level, mean)


def test_variance_above_the_mean_is_negative_binomial_scipy():
    mean, variance = 4.0, 10.0
    kept = mixture_counts(np.array([[mean]]), np.array([[variance]]))
    law = stats.nbinom(mean**2 / (variance - mean), mean / variance)
    assert_allclose(kept.at_most(np.array([6])), law.cdf(6), rtol=1e-6)


def test_many_forecasts_stand_behind_one_another():
    mean = np.array([[0.0, 0.0], [2.0, 6.0], [90.0, 110.0], [0.5, 0.5]])
    kept = mixture_counts(mean, mean)
    wanted = stats.poisson.cdf(np.array([[0], [3], [95], [2]]), mean).mean(axis=1)
    assert_allclose(kept.at_most(np.array([0, 3, 95, 2])), wanted, atol=2e-7)
    assert_allclose(kept.at_most(np.array([-1, -1, 0, -5])), 0.0, atol=1e-30)
    assert kept.quantile(0.5)[0] == 0


def test_classes_of_many_parts_keep_the_mixture():
    rng = np.random.default_rng(5)
    for centre in (0.7, 12.0, 300.0):
        mean = centre * rng.lognormal(0.0, 0.25, size=(1, 40))
        kept = mixture_counts(mean, 1.1 * mean)
        alone = [mixture_counts(part[None], 1.1 * part[None]) for part in mean.T]
        for count in (int(centre * share) for share in (0.7, 1.0, 1.4)):
            wanted = np.mean([one.at_most(np.array([count]))[0] for one in alone])
            assert abs(kept.at_most(np.array([count]))[0] - wanted) < 2e-3
    poor = mixture_counts(mean.mean(axis=1, keepdims=True), 1.1 * mean.mean(axis=1, keepdims=True))
    assert abs(poor.at_most(np.array([count]))[0] - wanted) > 2e-3  # leaving the spread out shows
