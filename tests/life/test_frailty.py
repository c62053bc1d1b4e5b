"""Service points against their peers."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life.frailty import (
    PRONE_FROM,
    fit_concentration,
    log_marginal,
    place_rates,
    rate_draws,
)

# Ten pumps, failures and thousand hours: George, Makov and Smith (1993), as quoted in
# OpenBUGS Examples Volume I; data of Gaver and O'Muircheartaigh (1987).
PUMP_FAILURES = np.array([5, 1, 5, 14, 3, 19, 1, 1, 4, 22], float)
PUMP_HOURS = np.array([94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])


def test_concentration_of_the_pumps_is_the_published_marginal_estimate():
    """Maximum marginal likelihood 0.82 and 1.26, as quoted in the NIMBLE test suite."""
    rate = 0.82296505 / 1.26165326  # mean rate at the published maximum (more digits: ours)
    found, p_value = fit_concentration(PUMP_FAILURES, PUMP_HOURS * rate)
    assert found == pytest.approx(0.82, abs=0.005)
    assert p_value < 1e-6


def test_shrunken_pump_rates_follow_from_the_published_estimate():
    rate = 0.82296505 / 1.26165326
    found = place_rates(PUMP_FAILURES, PUMP_HOURS * rate, false_share=0.2)
    assert_allclose(
        found.rate * rate, (0.82296505 + PUMP_FAILURES) / (1.26165326 + PUMP_HOURS), rtol=1e-4
    )


def test_log_marginal_is_the_negative_binomial():
    seen, expected, nu = np.array([0.0, 2.0, 5.0]), np.array([0.5, 1.0, 3.0]), 1.7
    exact = stats.nbinom(nu, nu / (nu + expected)).logpmf(seen)
    constant = seen * np.log(expected) - np.array([0.0, np.log(2), np.log(120)])
    assert log_marginal(nu, seen, expected) == pytest.approx((exact - constant).sum())


def test_log_marginal_goes_over_into_all_alike():
    seen, expected = np.array([0.0, 2.0, 5.0]), np.array([0.5, 1.0, 3.0])
    assert log_marginal(1e9, seen, expected) == pytest.approx(
        log_marginal(np.inf, seen, expected), abs=1e-5)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("mean", [0.3, 1.0, 5.0])
def test_nothing_is_flagged_where_places_do_not_differ(seed, mean):
    rng = np.random.default_rng(seed)
    expected = np.full(3000, mean)
    found = place_rates(rng.poisson(expected).astype(float), expected, false_share=0.2)
    if np.isinf(found.concentration):
        assert not found.is_prone.any()
        assert_allclose(found.rate, 1.0)
    else:  # the test errs once in a hundred; even then hardly anything is flagged
        assert found.is_prone.sum() <= 3


@pytest.mark.parametrize("mean", [3.0, 10.0])
def test_share_of_false_flags_stays_near_the_stated_one(mean):
    false, flagged = 0, 0
    for seed in range(5):
        rng = np.random.default_rng(seed)
        rate = rng.gamma(2.0, 0.5, 4000)
        expected = np.full(4000, mean)
        found = place_rates(rng.poisson(rate * expected).astype(float), expected, false_share=0.2)
        flagged += found.is_prone.sum()
        false += (found.is_prone & (rate <= PRONE_FROM)).sum()
    assert flagged > 500
    assert false / flagged == pytest.approx(0.2, abs=0.03)


def test_bounds_of_rates_cover_at_their_stated_share():
    rng = np.random.default_rng(3)
    rate = rng.gamma(2.0, 0.5, 20_000)
    expected = rng.uniform(0.2, 8.0, 20_000)
    found = place_rates(rng.poisson(rate * expected).astype(float), expected, false_share=0.2)
    inside = (found.lower <= rate) & (rate <= found.upper)
    assert inside.mean() == pytest.approx(0.90, abs=0.01)


def test_rate_draws_have_the_posterior_mean_and_repeat_with_the_seed():
    seen, expected = np.array([0.0, 7.0]), np.array([2.0, 2.0])
    names = ["a", "b"]
    draws = rate_draws(seen, expected, 2.0, 20_000, 5, names)
    assert_allclose(draws.mean(axis=1), [2 / 4, 9 / 4], rtol=0.03)
    assert np.array_equal(draws, rate_draws(seen, expected, 2.0, 20_000, 5, names))
    assert_allclose(rate_draws(seen, expected, np.inf, 3, 5, names), 1.0)


def test_the_draws_of_a_place_do_not_move_with_the_places_beside_it():
    seen, expected = np.array([0.0, 7.0, 1.0]), np.array([2.0, 2.0, 3.0])
    three = rate_draws(seen, expected, 2.0, 50, 5, ["a", "b", "c"])
    two = rate_draws(seen[[2, 1]], expected[[2, 1]], 2.0, 50, 5, ["c", "b"])
    assert np.array_equal(three[[2, 1]], two)


@pytest.mark.parametrize("n", [0, 1, 2])
def test_too_few_places_to_compare(n):
    found = place_rates(np.ones(n), np.ones(n), false_share=0.2)
    assert not found.is_prone.any()
    assert found.rate.size == n
