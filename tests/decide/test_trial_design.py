"""Pairs, coin, size, worth, safety stop: by simulation and by hand."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.decide.trial.design import (
    DAYS_A_MONTH,
    MONTHS,
    Sizes,
    World,
    chosen_size,
    claims,
    planned_failures,
    sizes,
)
from etl.decide.trial.pairs import Pair, Place, pair_places, second_arm_is_on_second
from etl.decide.trial.posterior import Prior
from etl.decide.trial.safety import early_limit, must_stop
from etl.decide.trial.simulate import ArmLaw, FixedLaw, counted, expected, failure_days
from etl.decide.trial.value import value_of_trial
from tests.bench import trial_worlds


def world(n_trials=400, n_pairs=12, spread=0.35, shape=2.0, mean_months=12.0, seed=1):
    """Return trials of arms whose lives differ at random, places as unlike as usual."""
    rng = np.random.default_rng(seed)
    life = mean_months * DAYS_A_MONTH / math.gamma(1.0 + 1.0 / shape)
    ratio = rng.normal(0.0, spread, n_trials)
    rate = rng.gamma(3.0, 1 / 3, (n_trials, n_pairs, 1)) * rng.gamma(
        12.0, 1 / 12, (n_trials, n_pairs, 2))
    first = ArmLaw(np.full((n_trials, 1), shape), np.full((n_trials, 1), math.log(life)))
    return World(first, first.lengthened(ratio), ratio, rate, np.ones((n_pairs, 2)),
                 FixedLaw(shape, life), Prior(0.0, spread, shape, 12.0))


def test_lives_of_competing_mechanisms_are_minima_of_weibull_lives():
    law = ArmLaw(np.array([[2.0, 1.2]]).repeat(4000, 0), np.log([[300.0, 500.0]]).repeat(4000, 0))
    first = failure_days(law, np.full((4000, 1), 1.5), 1e5, np.random.default_rng(2))[:, 0, 0]
    at = np.array([50.0, 150.0, 300.0])
    gone = -np.expm1(-1.5 * ((at / 300.0) ** 2.0 + (at / 500.0) ** 1.2))
    assert_allclose([(first <= day).mean() for day in at], gone, atol=0.025)


def test_expected_failures_are_the_hazard_passed_by_every_hose():
    days = np.array([[100.0, 250.0, np.inf]])
    found = expected(days, np.array([50.0, 300.0]), FixedLaw(2.0, 200.0))
    assert_allclose(found[0], [0.25**2, 0.5**2 + 0.75**2 + 0.25**2])
    assert counted(days, np.array([50.0, 250.0, 300.0]))[0].tolist() == [0, 2, 2]


def test_a_null_world_expects_as_many_failures_as_it_sees():
    null = world(800, 4, spread=1e-9)
    one = World(null.first, null.second, null.log_ratio, np.ones((800, 4, 2)), null.known_rate,
                null.law, Prior(0.0, 0.35, 2.0, 12.0))
    looks = np.array([300.0, 900.0])
    days = failure_days(one.first, one.rate[:, :, 0], 900.0, np.random.default_rng(3))
    seen, hazard = counted(days, looks).sum((0, 1)), expected(days, looks, one.law).sum((0, 1))
    assert_allclose(seen / hazard, 1.0, atol=0.04)


def test_more_pairs_and_more_months_choose_better_and_a_plan_reaches_what_is_asked():
    found = sizes(world(), np.random.default_rng(4))
    assert found.right_choice.shape == (12, MONTHS.size)
    assert found.right_choice[11, 5] > found.right_choice[2, 1] + 0.05
    assert found.right_choice[11, 5] > 0.93
    n_pairs, months = chosen_size(found, 0.9, -np.add.outer(np.arange(12.0), MONTHS))
    assert n_pairs >= 6
    assert found.right_choice[n_pairs - 1, list(MONTHS).index(months)] >= 0.9


def test_the_chance_of_a_right_choice_agrees_with_an_independent_simulation():
    spread, n = 0.35, 600
    log_ratio = np.random.default_rng(11).normal(0.0, spread, n)
    seen = trial_worlds.simulate(trial_worlds.World(months=24, planned_a_month=0.0), n, 12,
                                 log_ratio)
    chance = trial_worlds.posterior(seen.failed[:, -1:], seen.expected[:, -1:],
                                    Prior(0.0, spread, 2.0, 12.0))[:, 0]
    matters = np.abs(log_ratio) > math.log(1.2)
    right = ((chance > 0.5) == (log_ratio > 0))[matters].mean()
    found = sizes(world(n, 12), np.random.default_rng(4))
    assert_allclose(found.right_choice[11, list(MONTHS).index(24)], right, atol=0.05)


def test_claims_come_rarely_the_wrong_way_round_and_never_from_few_pairs():
    mine = world(600, 12)
    found = sizes(mine, np.random.default_rng(5))
    said = claims(mine, 12, 36, planned_failures(found, 12, 5), np.random.default_rng(6))
    assert 0.40 <= said.shown <= 0.75
    assert said.wrong <= 0.02
    assert claims(mine, 5, 36, 20.0, np.random.default_rng(6)).shown == 0.0


def sizes_of(right):
    right = np.asarray(right, float)
    return Sizes(np.array([6, 12, 18]), right, right, right)


@pytest.mark.parametrize(("right", "value", "wanted"), [
    # Two sizes reach the chance: the one worth more is taken.
    ([[0.6, 0.7, 0.91], [0.7, 0.92, 0.95]], [[0, 0, 9], [0, 5, 1]], (2, 12)),
    # None that reaches it is worth its cost: what is worth most above three quarters.
    ([[0.6, 0.7, 0.8], [0.7, 0.8, 0.95]], [[0, 0, 9], [0, 3, -1]], (2, 12)),
    # Nothing is worth its cost: the soonest that reaches the chance.
    ([[0.6, 0.7, 0.8], [0.7, 0.92, 0.95]], [[-1, -1, -1], [-2, -2, -2]], (2, 12)),
    # Nothing tells: all pairs, as long as it takes.
    ([[0.5, 0.6, 0.6], [0.6, 0.6, 0.7]], [[1, 1, 1], [1, 1, 1]], (2, 18)),
])
def test_the_size_is_the_one_worth_most_that_tells_enough(right, value, wanted):
    assert chosen_size(sizes_of(right), 0.9, np.array(value, float)) == wanted


def place(name, equipment="", line="", site="S", failures=1.0):
    return Place(name, equipment, line, site, failures)


def test_places_on_one_machine_are_paired_before_those_on_one_line_or_site():
    found = pair_places([
        place("a", "M1", "L1"), place("b", "M1", "L1", failures=0.2), place("c", "M2", "L1", "S"),
        place("d", "M3", "L1"), place("e", "", "", "S"), place("f", "", "", "T")])
    assert {(pair.first, pair.second, pair.shares) for pair in found} == {
        ("a", "b", "equipment"), ("c", "d", "line")}


def test_pairs_do_not_hang_on_the_order_of_rows_and_use_each_place_once():
    places = [place(f"p{i}", f"M{i % 5}", f"L{i % 3}", failures=1.0 + i % 4) for i in range(23)]
    found = pair_places(places)
    assert found == pair_places(places[::-1])
    names = [name for pair in found for name in (pair.first, pair.second)]
    assert len(names) == len(set(names)) == 22
    assert [pair.expected_failures for pair in found] == sorted(
        (pair.expected_failures for pair in found), reverse=True)


def test_the_coin_is_fair_and_can_be_tossed_again():
    pairs = [Pair(f"a{i}", f"b{i}", "line", 1.0) for i in range(2000)]
    tossed = [second_arm_is_on_second("T", pair, 7) for pair in pairs]
    assert tossed == [second_arm_is_on_second("T", pair, 7) for pair in pairs]
    assert stats.binomtest(sum(tossed), 2000).pvalue > 0.001
    other = [second_arm_is_on_second("T", pair, 8) for pair in pairs]
    assert 0.4 < np.mean(np.array(tossed) == np.array(other)) < 0.6


@pytest.mark.parametrize(("fitted", "early", "limit", "hazardous", "stop"), [
    (12, 1, 0.05, False, False), (12, 4, 0.05, False, True), (12, 1, 0.05, True, True),
    (12, 0, 0.05, True, False), (40, 3, 0.05, False, False)])
def test_the_safety_stop_by_hand(fitted, early, limit, hazardous, stop):
    found = must_stop(np.array([float(fitted)]), np.array([float(early)]), limit,
                      is_hazardous=hazardous)
    assert bool(found[0]) is stop


def test_the_safety_stop_is_rare_without_cause_and_finds_an_arm_that_fails_early():
    for shape, least, most in ((None, 0.0, 0.02), (0.8, 0.85, 1.0)):
        mine = trial_worlds.World(second_shape=shape)
        seen = trial_worlds.simulate(mine, 300, 21)
        scale = trial_worlds.weibull_scale(mine.mean_life, mine.shape)
        limit = early_limit(-math.expm1(-(mine.early_months / scale) ** mine.shape))
        stopped = must_stop(seen.fitted[..., 1], seen.early[..., 1], limit, is_hazardous=False)
        assert least <= stopped.any(axis=1).mean() <= most


def test_the_worth_of_a_trial_agrees_with_simulated_decisions():
    """Independent: draw the truth, the estimate a trial leaves, and decide by it."""
    rng = np.random.default_rng(31)
    n, life, cost, switch, g, t, horizon = 30, 12.0, 1000.0, 100.0, 8, 24, 60
    mu, s, b = 0.02, 0.5, 2.0
    failures = 0.85 * g * t / life
    found = value_of_trial(n, life, cost, mu, s, b, switch, 500.0, g, t, horizon, 1e9)
    truth = rng.normal(mu, s, 400_000)
    noise = math.sqrt((1 / failures + math.exp(mu) / failures) / b**2)
    estimate = truth + rng.normal(0.0, noise, truth.size)
    mean = (estimate * s**2 + mu * noise**2) / (s**2 + noise**2)
    left = s * noise / math.sqrt(s**2 + noise**2)
    rate = n * (horizon - t) * cost / life
    takes = rate * (1 - np.exp(-mean + left**2 / 2)) > n * switch
    gain = np.where(takes, rate * (1 - np.exp(-truth)) - n * switch, 0.0)
    inside = g * t * cost / life * (1 - np.exp(-truth)) - g * switch - 500.0
    assert_allclose(found.with_trial, (gain + inside).mean(), rtol=0.02)
    without = n * horizon * cost / life * (1 - np.exp(-truth)) - n * switch
    assert_allclose(found.without, max(0.0, without.mean()), rtol=0.05)


def test_a_trial_is_worth_nothing_where_all_is_known_or_nothing_is_at_stake():
    sure = value_of_trial(30, 12, 1000, 0.5, 1e-3, 2, 0, 0, 8, 24, 60, 12)
    assert sure.score < 1e-6 * sure.without
    assert value_of_trial(30, 12, 0, 0, 0.4, 2, 0, 100, 8, 24, 60, 12).score <= -100
    assert value_of_trial(30, 12, 1000, 0, 0.4, 2, 0, 0, 8, 60, 60, 12).with_trial <= 0.0
