"""The choice in a trial: against direct integration, and its coverage where a trial stops."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import special, stats

from etl.decide.trial.posterior import (
    Prior,
    life_ratio,
    pair_log_likelihood,
    posterior_weights,
    second_longer,
)
from etl.decide.trial.simulate import FixedLaw
from etl.decide.trial.watch import Stays, claim_test, early_counts, favoured, seen_at
from tests.bench.trial_worlds import World, planned_failures, sign_flip, simulate

PRIOR = Prior(0.1, 0.5, 2.0, 12.0)


def direct(second, both, log_expected, prior):
    """Return mean and standard deviation of the log ratio by quadrature, pair by pair."""
    sd = np.sqrt(2.0 * special.polygamma(1, prior.within_pair_concentration))

    u = np.linspace(-8 * sd, 8 * sd, 801)

    def likelihood(ratio):
        total = 1.0
        for o, n, e in zip(second, both, log_expected, strict=True):
            chance = stats.binom.pmf(o, n, special.expit(e - prior.shape * ratio + u))
            total *= np.trapezoid(stats.norm.pdf(u, 0.0, sd) * chance, u)
        return total

    grid = np.linspace(-2.5, 2.5, 401)
    weight = np.array([likelihood(r) for r in grid]) * stats.norm.pdf(
        grid, prior.log_life_ratio, prior.log_life_ratio_sd)
    weight /= weight.sum()
    mean = float(weight @ grid)
    longer = float(weight[grid > 0].sum() + weight[grid == 0].sum() / 2)
    return mean, float(np.sqrt(weight @ grid**2 - mean**2)), longer


@pytest.mark.parametrize(("second", "both", "log_expected"), [
    ([0, 1, 0, 0], [2, 2, 1, 0], [0.0, 0.3, -0.2, 0.0]),
    ([3, 2, 1], [4, 3, 1], [0.1, 0.0, -0.4]),
])
def test_it_equals_direct_integration(second, both, log_expected):
    o, n, e = (np.array(values, float) for values in (second, both, log_expected))
    grid = PRIOR.grid()
    ratio = -grid / PRIOR.shape
    weight = posterior_weights(pair_log_likelihood(o, n, e, PRIOR, grid).sum(axis=0), PRIOR, grid)
    mean, sd, chance = direct(second, both, log_expected, PRIOR)
    assert_allclose(weight @ ratio, mean, atol=2e-4)
    assert_allclose(np.sqrt(weight @ ratio**2 - (weight @ ratio) ** 2), sd, rtol=5e-4)
    assert_allclose(second_longer(weight, ratio), chance, atol=5e-3)


def test_before_any_failure_it_is_the_prior():
    grid = PRIOR.grid()
    each = pair_log_likelihood(np.zeros(3), np.zeros(3), np.zeros(3), PRIOR, grid)
    found = life_ratio(each.sum(axis=0), PRIOR, grid, 0.9)
    assert_allclose(found.median, np.exp(0.1), rtol=1e-3)
    assert_allclose(found.upper, np.exp(0.1 + 1.6449 * 0.5), rtol=5e-3)
    assert_allclose(found.lower, np.exp(0.1 - 1.6449 * 0.5), rtol=5e-3)


def test_an_arm_without_a_failure_needs_no_special_case():
    grid = PRIOR.grid()
    each = pair_log_likelihood(np.zeros(8), np.ones(8), np.zeros(8), PRIOR, grid)
    found = life_ratio(each.sum(axis=0), PRIOR, grid, 0.9)
    assert found.lower > 1.0
    assert np.isfinite(found.upper)
    assert found.second_longer > 0.98


def test_its_range_holds_where_the_test_stops():
    rng = np.random.default_rng(5)
    log_ratio = rng.normal(0.0, 0.35, 300)
    seen = simulate(World(), 300, 6, log_ratio)
    at, _ = sign_flip(seen.failed, seen.expected, planned_failures(World()))
    prior, rows = Prior(0.0, 0.35, 2.0, 12.0), np.arange(300)
    failed, expected = (values[rows, at] for values in (seen.failed, seen.expected))
    safe = np.log(np.maximum(expected, 1e-9))
    grid = prior.grid()
    each = pair_log_likelihood(failed[..., 1], failed.sum(axis=2), safe[..., 1] - safe[..., 0],
                               prior, grid)
    found = life_ratio(each.sum(axis=1), prior, grid, 0.9)
    inside = (np.log(found.lower) < log_ratio) & (log_ratio < np.log(found.upper))
    assert 0.85 <= inside.mean() <= 0.95


def stays(**changes):
    values = {
        "slot": [0, 0, 1], "begin": [0.0, 100.0, 0.0], "end": [100.0, 365.0, 365.0],
        "age": [0.0, 0.0, 50.0], "rate": [1.0, 1.0, 2.0], "is_failure": [True, False, False]}
    values |= changes
    return Stays(*(np.array(values[name]) for name in (
        "slot", "begin", "end", "age", "rate", "is_failure")))


def test_looks_count_failures_and_expect_them_by_the_law_fixed_before():
    law = FixedLaw(2.0, 200.0)
    seen = seen_at(stays(), np.array([50.0, 100.0, 365.0]), law, 1)
    assert seen.failed[:, 0, 0].tolist() == [0, 1, 1]
    assert_allclose(seen.expected[0, 0], [0.25**2, 2 * (0.5**2 - 0.25**2)])
    assert_allclose(seen.expected[2, 0], [0.5**2 + 1.325**2, 2 * ((415 / 200) ** 2 - 0.25**2)])
    nothing = seen_at(stays(), np.array([0.0]), law, 2)
    assert_allclose(nothing.log_expected_ratio, 0.0)
    assert_allclose(nothing.share, 0.5)


def test_a_removal_on_the_day_of_a_look_counts_and_one_later_does_not():
    looks = np.array([99.0, 100.0])
    assert seen_at(stays(), looks, FixedLaw(1.0, 100.0), 1).failed[:, 0, 0].tolist() == [0, 1]


def test_early_failures_count_by_age_not_by_day_of_the_trial():
    young = stays(begin=[0.0, 300.0, 0.0], end=[80.0, 360.0, 80.0], age=[0.0, 0.0, 50.0],
                  is_failure=[True, True, True])
    fitted, early = early_counts(young, np.array([100.0, 365.0]), 90.0)
    assert fitted.tolist() == [[1, 1], [2, 1]]
    assert early.tolist() == [[1, 0], [2, 0]]


def test_a_watched_trial_claims_and_favours_the_arm_that_fails_less():
    n = 12
    many = Stays(
        np.repeat(np.arange(2 * n), 2), np.tile([0.0, 200.0], 2 * n),
        np.tile([200.0, 400.0], 2 * n), np.zeros(4 * n), np.ones(4 * n),
        np.repeat(np.arange(2 * n) % 2 == 0, 2))
    seen = seen_at(many, np.array([100.0, 200.0, 400.0]), FixedLaw(2.0, 300.0), n)
    test = claim_test(seen, 20.0, True, 1)
    assert test.claimed_at == 1
    assert test.statistic[1] < 0
    assert favoured(seen, PRIOR, 0.9).lower[-1] > 1.0
