"""The claim of a trial: its error over all looks, against slow arithmetic and naive peeking."""

import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from etl.decide.trial.posterior import Prior
from etl.decide.trial.sign_flip import (
    LEVEL,
    coin_patterns,
    pair_differences,
    sequential_looks,
    spending,
    stop_patterns,
)
from tests.bench.trial_worlds import (
    World,
    log_rank,
    planned_failures,
    posterior,
    sign_flip,
    simulate,
)

N_TRIALS = 400
WORLDS = {
    "no frailty": World(pair_concentration=1e6, place_concentration=1e6),
    "strong frailty": World(pair_concentration=1.5, place_concentration=4.0),
    "pairs that are not alike": World(is_pair_shared=False),
    "places retired": World(retired_a_month=0.01),
}


def paths(n_pairs=8, n_looks=6, seed=4):
    """Return differences of a trial that grow by halves at every look."""
    rng = np.random.default_rng(seed)
    return np.cumsum(rng.integers(-1, 2, (n_looks, n_pairs)) / 2.0 + rng.normal(
        0, 0.01, (n_looks, n_pairs)), axis=0)


def slow_claim(differences, fraction, truth):
    """Return the look of the claim were `truth` the coins: all patterns by loops, no arrays."""
    n_looks, n_pairs = differences.shape
    alive = {coins: True for coins in itertools.product((1, -1), repeat=n_pairs)}
    n_stopped, unlabelled = 0, differences * truth
    for look in range(n_looks):
        allowed = int(LEVEL * min(fraction[look], 1.0) ** 1.5 * len(alive) + 1e-9)
        ranked = sorted((abs(float(np.dot(coins, unlabelled[look]))) for coins in alive
                         if alive[coins]), reverse=True)
        room = allowed - n_stopped
        if room <= 0:
            continue
        limit = ranked[room] if room < len(ranked) else 0.0
        for coins in alive:
            if alive[coins] and abs(float(np.dot(coins, unlabelled[look]))) > limit + 1e-9:
                alive[coins] = False
                n_stopped += 1
                if coins == tuple(truth):
                    return look
    return -1


def test_every_pattern_is_listed_once_the_true_one_first():
    signs = coin_patterns(7, 1)
    assert len({tuple(row) for row in signs.tolist()}) == 128
    assert (signs[0] == 1).all()
    many = coin_patterns(20, 1)
    assert many.shape == (4096, 20)
    assert_array_equal(many[2048:], -many[:2048])


@pytest.mark.parametrize("seed", range(8))
def test_it_claims_as_a_slow_loop_over_all_patterns_does(seed):
    d, fraction = paths(seed=seed) * 1.5, np.linspace(0.2, 1.0, 6)
    found = sequential_looks(d, fraction, coin_patterns(8, 0))
    assert found.claimed_at == slow_claim(d, fraction, np.ones(8))
    assert_allclose(found.statistic, d.sum(axis=1))


def test_the_share_of_patterns_that_would_claim_is_what_was_spent():
    """Whatever happened at the places, no more coins than the level lead to a claim."""
    for seed in range(20):
        d, fraction = paths(seed=seed), np.linspace(0.1, 1.0, 6)
        signs = coin_patterns(8, 0).astype(float)
        stopped, _, spent = stop_patterns(np.abs(d[None] @ signs.T), fraction[None], LEVEL)
        assert (stopped >= 0).mean() <= LEVEL
        assert_allclose(spent[0, -1], (stopped >= 0).mean())
        assert (spent[0] <= spending(fraction) + 1e-12).all()


def test_naive_peeking_spends_several_times_the_level():
    """The negative control: five per cent of the patterns at each look add up."""
    total = []
    for seed in range(20):
        d = paths(seed=seed, n_looks=12)
        statistic = np.abs(d @ coin_patterns(8, 0).T.astype(float))
        limit = np.quantile(statistic, 1.0 - LEVEL, axis=1, keepdims=True)
        total.append((statistic > limit).any(axis=0).mean())
    assert np.mean(total) > 2.0 * LEVEL


def test_fewer_than_six_pairs_never_claim():
    for n_pairs in range(1, 6):
        d = np.full((1, n_pairs), 9.0)
        assert sequential_looks(d, np.ones(1), coin_patterns(n_pairs, 0)).claimed_at == -1
    assert sequential_looks(np.full((1, 6), 9.0), np.ones(1), coin_patterns(6, 0)).claimed_at == 0


def test_exchanging_the_arms_changes_only_the_sign():
    rng = np.random.default_rng(3)
    first, second = rng.poisson(2.0, (2, 10)).astype(float)
    share = rng.uniform(0.2, 0.8, 10)
    there = pair_differences(second, first + second, share)
    back = pair_differences(first, first + second, 1.0 - share)
    assert_allclose(there, -back)


@pytest.mark.parametrize("name", WORLDS)
def test_its_error_holds_under_monthly_looks_in_every_world(name):
    world = WORLDS[name]
    seen = simulate(world, N_TRIALS, 7)
    claimed = sign_flip(seen.failed, seen.expected, planned_failures(world))[0] >= 0
    assert claimed.mean() <= LEVEL + 2.5 * np.sqrt(LEVEL * (1 - LEVEL) / N_TRIALS)


def test_monthly_looks_at_a_posterior_or_a_log_rank_fail_in_the_same_world():
    seen = simulate(World(), N_TRIALS, 8)
    chance = posterior(seen.failed, seen.expected, Prior(0.0, 0.5, 2.0, 12.0), n_grid=31)
    assert (np.maximum(chance, 1.0 - chance) > 0.95).any(axis=1).mean() > 0.20
    peek = np.abs(log_rank(seen.failed, seen.expected)) > stats.norm.ppf(0.975)
    assert peek.any(axis=1).mean() > 0.20


def test_a_true_difference_is_shown_and_never_the_wrong_way_round():
    world = World(ratio=2.0)
    seen = simulate(world, 200, 9)
    at, says_longer = sign_flip(seen.failed, seen.expected, planned_failures(world))
    assert ((at >= 0) & says_longer).mean() >= 0.80
    assert ((at >= 0) & ~says_longer).mean() <= 0.02
