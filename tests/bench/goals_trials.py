"""Goals of field trials in invented worlds, with the present figures.

Run: ``python -m tests.bench.goals_trials [--full]``; one thread, half a minute, or some minutes
with ``--full``. Mean life 12 months, shape 2, 12 pairs, 36 monthly looks unless said otherwise;
pairs differ by a gamma factor of concentration 3, places of a pair by one of 12. Nothing fails
when a goal is missed: the table says so.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Iterator

import numpy as np
from scipy import stats

from etl.decide.trial.design import MONTHS, chosen_size, claims, planned_failures, sizes
from etl.decide.trial.posterior import Prior, life_ratio, pair_log_likelihood
from etl.decide.trial.safety import early_limit, must_stop
from etl.decide.trial.value import value_of_trial
from tests.bench import trial_worlds
from tests.bench.bench_fit import exp_pass
from tests.bench.goal_rows import Goal
from tests.bench.trial_worlds import World, log_rank, posterior, sign_flip, simulate
from tests.decide.test_trial_design import world

NULLS = {
    "usual frailty": World(),
    "no frailty": World(pair_concentration=1e6, place_concentration=1e6),
    "strong frailty": World(pair_concentration=1.5, place_concentration=4.0),
    "pairs not alike": World(is_pair_shared=False),
    "places retired": World(retired_a_month=0.01),
}
SMALL_PRIOR, WIDE_PRIOR = Prior(0.0, 0.35, 2.0, 12.0), Prior(0.0, 0.5, 2.0, 12.0)


def worth(full: bool) -> Iterator[Goal]:
    """D1: the closed form against simulated trials, and its speed."""
    n, n_sim = 150, 150 if full else 60
    rng = np.random.default_rng(1)
    places, life = rng.integers(6, 81, n), rng.uniform(7.0, 60.0, n)
    mu, s = rng.normal(0.0, 0.15, n), rng.uniform(0.1, 0.6, n)
    cost, switch = rng.uniform(300.0, 5000.0, n), rng.uniform(50.0, 1500.0, n)
    pairs = np.minimum(12, places // 2)
    score = value_of_trial(places, life, cost, mu, s, 2.0, switch, 1000.0, pairs, 24, 60.0,
                           12.0).score
    real = np.array([
        _realised(i, n_sim, places[i], life[i], mu[i], s[i], cost[i], switch[i], pairs[i])
        for i in range(n)])
    yield Goal("worth: rank correlation with simulated trials", float(
        stats.spearmanr(score, real).statistic), at_least=0.90)
    top, best = np.argsort(-score)[:10], np.argsort(-real)[:10]
    yield Goal("  top ten by the closed form over the best possible ten",
               real[top].sum() / real[best].sum(), at_least=0.85)
    yield Goal("  sign (a trial pays or not) agrees", float(
        ((score > 0) == (real > 0)).mean()), at_least=0.93)
    begin = time.process_time()
    big = np.resize(mu, 100_000)
    value_of_trial(30, 12, 1000, big, 0.3, 2.0, 100.0, 500.0, 10, 24, 60.0, 12.0)
    yield Goal("  100,000 candidates, EXP(1e6)",
               (time.process_time() - begin) / exp_pass(10**6), at_most=100.0)


def _realised(seed, n_sim, places, life, mu, s, cost, switch, pairs):
    """Return the mean saving of deciding after simulated trials, over deciding before."""
    horizon, t = 60.0, 24
    rng = np.random.default_rng([7, seed])
    truth = rng.normal(mu, s, n_sim)
    seen = simulate(World(n_pairs=int(pairs), months=t, mean_life=float(life),
                          planned_a_month=0.0), n_sim, 100 + seed, truth)
    prior = Prior(float(mu), float(s), 2.0, 12.0)
    grid = prior.grid(31)
    safe = np.log(np.maximum(seen.expected[:, -1], 1e-9))
    each = pair_log_likelihood(seen.failed[:, -1, :, 1], seen.failed[:, -1].sum(axis=2),
                               safe[..., 1] - safe[..., 0], prior, grid)
    value = each.sum(axis=1) - 0.5 * ((-grid / 2.0 - mu) / s) ** 2
    weight = np.exp(value - value.max(axis=1, keepdims=True))
    rate_ratio = (weight @ np.exp(grid / 2.0)) / weight.sum(axis=1)
    stake = places * (horizon - t) * cost / life
    takes = stake * (1.0 - rate_ratio) > places * switch
    gain = np.where(takes, stake * (1.0 - np.exp(-truth)) - places * switch, 0.0)
    inside = pairs * t * cost / life * (1.0 - np.exp(-truth)) - pairs * switch - 1000.0
    whole = places * horizon * cost / life * (1.0 - np.exp(-mu + s**2 / 2)) - places * switch
    return float((gain + inside).mean() - max(0.0, whole))


def errors(full: bool) -> Iterator[Goal]:
    """D2: error of the claim in every null world; peeking fails."""
    n = 2_000 if full else 600
    most = 0.05 + 2.0 * math.sqrt(0.05 * 0.95 / n)
    for name, mine in NULLS.items():
        seen = simulate(mine, n, 11)
        at, _ = sign_flip(seen.failed, seen.expected, trial_worlds.planned_failures(mine))
        yield Goal(f"claims without a difference, {name}", float((at >= 0).mean()), at_most=most)
    seen = simulate(World(), min(n, 1000), 12)
    chance = posterior(seen.failed, seen.expected, WIDE_PRIOR)
    yield Goal("  negative control: posterior above 0.95, looked at monthly", float(
        (np.maximum(chance, 1.0 - chance) > 0.95).any(axis=1).mean()), at_least=0.20)
    peek = np.abs(log_rank(seen.failed, seen.expected)) > 1.96
    yield Goal("  negative control: log-rank at 1.96, looked at monthly",
               float(peek.any(axis=1).mean()), at_least=0.20)
    unlike = World(shape=1.2, second_shape=3.0)
    seen = simulate(unlike, n, 13)
    planned = trial_worlds.planned_failures(unlike)
    for first, name in ((0, "from the first look"), (17, "from month 18")):
        at, _ = sign_flip(seen.failed, seen.expected, planned, first_look=first)
        yield Goal(f"  same mean life, shapes 1.2 and 3, claims {name}", float((at >= 0).mean()))


def power(full: bool) -> Iterator[Goal]:
    """D3, D4: what is shown, chosen rightly, and claimed the wrong way round."""
    n = 1_000 if full else 400
    for ratio, least in ((1.5, 0.50), (2.0, 0.85)):
        mine = World(ratio=ratio)
        seen = simulate(mine, n, 14)
        at, longer = sign_flip(seen.failed, seen.expected, trial_worlds.planned_failures(mine))
        right = (at >= 0) & longer
        yield Goal(f"shown at a life ratio of {ratio:g}", float(right.mean()), at_least=least)
        yield Goal("  wrong way round", float(((at >= 0) & ~longer).mean()), at_most=0.02)
    yield Goal("  months to a claim at a ratio of 2", float(at[right].mean() + 1), at_most=30.0)
    truth = np.random.default_rng(15).normal(0.0, 0.35, n)
    seen = simulate(World(months=24), n, 16, truth)
    chance = posterior(seen.failed[:, -1:], seen.expected[:, -1:], SMALL_PRIOR)[:, 0]
    matters = np.abs(truth) > math.log(1.2)
    yield Goal("chosen rightly after 24 months, lives 20 % apart or more", float(
        ((chance > 0.5) == (truth > 0))[matters].mean()), at_least=0.92)


def safety(full: bool) -> Iterator[Goal]:
    """D5: the safety stop."""
    n = 2_000 if full else 600
    for name, shape, least, most in (("like the other arm", None, None, 0.01),
                                     ("failing early, shape 0.8", 0.8, 0.90, None)):
        mine = World(second_shape=shape)
        seen = simulate(mine, n, 17)
        scale = trial_worlds.weibull_scale(mine.mean_life, mine.shape)
        limit = early_limit(-math.expm1(-(mine.early_months / scale) ** mine.shape))
        stop = must_stop(seen.fitted[..., 1], seen.early[..., 1], limit, is_hazardous=False)
        yield Goal(f"safety stop of an arm {name}", float(stop.any(axis=1).mean()), most, least)


def coverage(full: bool) -> Iterator[Goal]:
    """D6: the range of the life ratio where the trial stops, and the raw ratio overstated."""
    n = 1_000 if full else 500
    truth = np.random.default_rng(18).normal(0.0, 0.35, n)
    seen = simulate(World(), n, 19, truth)
    at, _ = sign_flip(seen.failed, seen.expected, trial_worlds.planned_failures(World()))
    rows = np.arange(n)
    failed, expected = seen.failed[rows, at], seen.expected[rows, at]
    safe, grid = np.log(np.maximum(expected, 1e-9)), SMALL_PRIOR.grid()
    each = pair_log_likelihood(failed[..., 1], failed.sum(axis=2), safe[..., 1] - safe[..., 0],
                               SMALL_PRIOR, grid)
    found = life_ratio(each.sum(axis=1), SMALL_PRIOR, grid, 0.90)
    inside = (np.log(found.lower) < truth) & (truth < np.log(found.upper))
    yield Goal("90 % range of the life ratio holds at the stop", float(inside.mean()),
               at_least=0.87)
    early = (at >= 0) & (at < 35) & (np.abs(truth) > math.log(1.2))
    yield Goal("  claimed early: posterior over true log ratio, median", float(
        np.median(np.log(found.median[early]) / truth[early])))


def mistakes(full: bool) -> Iterator[Goal]:
    """D7: hoses of the wrong construction, more of them where places are bad."""
    n = 1_000 if full else 500
    mine = World(mistakes=0.15, mistakes_follow_frailty=True, place_concentration=4.0)
    seen, planned = simulate(mine, n, 20), trial_worlds.planned_failures(mine)
    at, _ = sign_flip(seen.failed, seen.expected, planned, once=True)
    yield Goal("15 % mistakes that follow the places: error as assigned",
               float((at >= 0).mean()), at_most=0.06)
    at, _ = sign_flip(seen.treated, seen.treated_expected, planned, once=True)
    yield Goal("  negative control: error as treated", float((at >= 0).mean()), at_least=0.06)


def speed(full: bool) -> Iterator[Goal]:
    """A plan answered: sizes, choice of one, chances of the test, 400 trials, 16 pairs."""
    mine = world(400, 16)
    begin = time.process_time()
    found = sizes(mine, np.random.default_rng(1))
    pairs, months = chosen_size(found, 0.9, -found.failures)
    at = int(np.flatnonzero(found.months == months)[0])
    claims(mine, pairs, int(MONTHS[at]), planned_failures(found, pairs, at),
           np.random.default_rng(2))
    yield Goal("a plan from nothing, processor seconds", time.process_time() - begin, at_most=2.0)


GOALS = {"D1": worth, "D2": errors, "D3, D4": power, "D5": safety, "D6": coverage,
         "D7": mistakes, "plan": speed}


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Goals of field trials.")
    parser.add_argument("--full", action="store_true", help="worlds of full size")
    options = parser.parse_args()
    for name, goals in GOALS.items():
        for goal in goals(options.full):
            word = {None: "-", True: "met", False: "NOT MET"}[goal.is_met]
            print(f"{name:7} {goal.what:66} {goal.figure:>9.4g}  {goal.wanted:12} {word}",
                  flush=True)


if __name__ == "__main__":
    main()
