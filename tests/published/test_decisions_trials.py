"""Two arms counted side by side: published examples of rates compared given their total."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.decide.trial.posterior import Prior, life_ratio, pair_log_likelihood
from etl.decide.trial.sign_flip import pair_differences

ALIKE = Prior(0.0, 3.0, 1.0, 1e9)
"""Nothing differs within the pair, next to nothing is believed, hazards are constant."""

EXACTCI = "R package exactci, vignette Exact conditional tests and matching confidence intervals"
RATERATIO = "R package rateratio.test, vignette Testing the ratio of two Poisson rates"
EXAMPLES = [
    pytest.param((2, 17877), (10, 20000), 0.2237512, 1e-7, id=f"{EXACTCI}: rate ratio"),
    pytest.param((2, 17877), (9, 16660), 0.2070941557, 1e-9, id=f"{RATERATIO}: rate ratio"),
]


def log_likelihood(second, first, grid):
    """Return the log likelihood of log hazard ratios, second over first, of one pair."""
    (o, t), (other, other_t) = second, first
    return pair_log_likelihood(
        np.array([float(o)]), np.array([float(o + other)]), np.array([np.log(t / other_t)]),
        ALIKE, grid)[0]


@pytest.mark.parametrize(("second", "first", "ratio", "tolerance"), EXAMPLES)
def test_the_likeliest_rate_ratio_is_the_published_one(second, first, ratio, tolerance):
    near = np.log(ratio) + np.array([-tolerance, 0.0, tolerance]) * 50 / ratio
    low, middle, high = log_likelihood(second, first, near)
    assert middle >= low
    assert middle >= high
    slope = np.diff(log_likelihood(second, first, np.log(ratio) + np.array([-1e-4, 1e-4])))
    assert abs(slope[0]) < 1e-7


@pytest.mark.parametrize(("count", "expected"), [
    pytest.param(2, 5.6637, id=f"{EXACTCI}: expected count of the first group")])
def test_the_share_of_a_pairs_failures_is_the_published_expected_count(count, expected):
    above = pair_differences(np.array([count]), np.array([12.0]), np.array([17877 / 37877]))
    assert_allclose(count - above, expected, atol=6e-5)


@pytest.mark.parametrize(("second", "first", "lower", "upper"), [
    pytest.param((2, 17877), (10, 20000), 0.02383738, 1.04995468, id=f"{EXACTCI}: 95 % limits"),
    pytest.param((2, 17877), (9, 16660), 0.02177406, 1.00054910, id=f"{RATERATIO}: 95 % limits"),
])
def test_the_posterior_with_next_to_no_belief_lies_inside_the_exact_limits(
    second, first, lower, upper
):
    """Exact limits hold at least 95 %, so that a posterior of the same counts is narrower."""
    grid = ALIKE.grid(2001)
    found = life_ratio(log_likelihood(second, first, grid), ALIKE, grid, 0.95)
    # Constant hazard: the ratio of lives is one over the ratio of rates.
    assert 1.0 / upper < found.lower
    assert found.upper < 1.0 / lower


def test_the_posterior_with_no_belief_is_the_beta_distribution_of_scipy():
    """A flat log ratio makes the share of the second arm beta distributed by its two counts."""
    wide = Prior(0.0, 60.0, 1.0, 1e12)
    grid = np.linspace(4.0, -8.0, 24_001)
    (o, t), (other, other_t) = (2, 17877), (10, 20000)
    each = pair_log_likelihood(np.array([float(o)]), np.array([float(o + other)]),
                               np.array([np.log(t / other_t)]), wide, grid)[0]
    found = life_ratio(each, wide, grid, 0.95)
    share = stats.beta(o, other).ppf([0.975, 0.5, 0.025])
    ratio = t / other_t * (1.0 - share) / share
    assert_allclose([found.lower, found.median, found.upper], ratio, rtol=2e-3)
