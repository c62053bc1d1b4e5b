"""Size of a trial: pairs and months for a right decision, by simulating the rule itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.decide.trial.posterior import (
    Prior,
    pair_log_likelihood,
    posterior_weights,
    second_longer,
)
from etl.decide.trial.sign_flip import (
    LEAST_PAIRS,
    LEVEL,
    coin_patterns,
    pair_differences,
    stop_patterns,
)
from etl.decide.trial.simulate import ArmLaw, FixedLaw, counted, expected, failure_days

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DAYS_A_MONTH = 365.25 / 12.0
MONTHS = np.arange(6, 61, 6)
"""Lengths that are tried."""
WORTH_KNOWING = float(np.log(1.2))
"""Lives that differ by less than 20 % are not told apart, nor need they be (our choice)."""
LEAST_CHANCE = 0.75
"""Below this chance of a right choice a trial is no better than asking around (our choice)."""
STILL_GROWS = 0.02
"""A longer trial is not planned for less than this of the chance."""
PLANNED_SHARE = 0.9
"""Planned failures over those expected were the arms alike: the error is then spent in time."""
COARSE_GRID, COARSE_NODES = 25, 3
"""Of the posterior inside simulations; against the full ones the choice differs in under 1 %."""
MOST_PATTERNS = 512
"""Coin patterns inside simulations."""


@dataclass(frozen=True)
class World:
    """What the trials are simulated from: joint draws of laws and of places.

    Attributes
    ----------
    first, second : ArmLaw
        Of each simulated trial.
    log_ratio : ndarray, shape (n_trials,)
        Log of life of the second arm over the first, as drawn.
    rate : ndarray, shape (n_trials, n_pairs, 2)
        Multiplier of the hazard at both places of each pair, as drawn.
    known_rate : ndarray, shape (n_pairs, 2)
        The same as known before the start.
    law : FixedLaw
        Fixed before the start.
    prior : Prior
    """

    first: ArmLaw
    second: ArmLaw
    log_ratio: Floats
    rate: Floats
    known_rate: Floats
    law: FixedLaw
    prior: Prior

    @property
    def n_pairs(self) -> int:
        """Pairs that could take part."""
        return int(self.rate.shape[1])


@dataclass(frozen=True)
class Sizes:
    """Chance of a right choice by number of pairs and length.

    Attributes
    ----------
    months : ndarray of int, shape (n_lengths,)
    right_choice : ndarray, shape (n_pairs, n_lengths)
        Chance that the posterior favours the longer-lived arm, where lives differ by more than
        20 %; row i is of i + 1 pairs.
    failures, if_alike : ndarray, shape (n_pairs, n_lengths)
        Failures expected in all, and were the second arm like the first.
    """

    months: Ints
    right_choice: Floats
    failures: Floats
    if_alike: Floats


@dataclass(frozen=True)
class Claims:
    """Chances of the sequential test at one size.

    Attributes
    ----------
    shown : float
        A true difference of more than 20 % is claimed, the right way round.
    wrong : float
        A claim that names the shorter-lived arm, of all trials.
    months_to_claim : float
        Mean over the right claims; NaN where none was made.
    """

    shown: float
    wrong: float
    months_to_claim: float


def seen_by(
    world: World, n_pairs: int, looks: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Simulate the trials and return what each look counts.

    Returns
    -------
    failed_second, failed : ndarray, shape (n_trials, n_looks, n_pairs)
        Failures of the second arm, and of both.
    log_expected_ratio : ndarray, same shape
        Log of failures expected of the second arm over the first, were the arms alike.
    """
    n_trials = world.log_ratio.size
    swap = rng.random((n_trials, n_pairs)) < 0.5
    place = np.stack([swap, ~swap], axis=-1).astype(np.int64)  # place of the first, second arm
    rate = np.take_along_axis(world.rate[:, :n_pairs], place, axis=2)
    known = np.take_along_axis(
        np.broadcast_to(world.known_rate[:n_pairs], rate.shape), place, axis=2)
    failures, hazards = [], []
    for arm, law in enumerate((world.first, world.second)):
        on = failure_days(law, rate[:, :, arm], float(looks[-1]), rng)
        failures.append(np.moveaxis(counted(on, looks), 2, 1))
        hazard = np.moveaxis(expected(on, looks, world.law), 2, 1)
        hazards.append(hazard * known[:, None, :, arm])
    return failures[1], failures[0] + failures[1], np.log(hazards[1]) - np.log(hazards[0])


def sizes(world: World, rng: np.random.Generator) -> Sizes:
    """Return the chance of a right choice at every size.

    Parameters
    ----------
    world : World
    rng : Generator

    Returns
    -------
    Sizes

    Notes
    -----
    The trials of all sizes are parts of the same simulated ones: more pairs and more months add
    to what was seen, so that chances rise smoothly from size to size.
    """
    looks = np.asarray(MONTHS * DAYS_A_MONTH, np.float64)
    second, both, log_ratio = seen_by(world, world.n_pairs, looks, rng)
    grid = world.prior.grid(COARSE_GRID)
    matters = np.abs(world.log_ratio) > WORTH_KNOWING
    is_longer = world.log_ratio > 0.0
    value = -grid / world.prior.shape
    right = np.full((world.n_pairs, MONTHS.size), np.nan)
    for at in range(MONTHS.size):
        each = pair_log_likelihood(second[:, at], both[:, at], log_ratio[:, at], world.prior, grid,
                                   COARSE_NODES)
        weight = posterior_weights(np.cumsum(each, axis=1), world.prior, grid)
        chosen = second_longer(weight, value) > 0.5
        if matters.any():
            right[:, at] = (chosen == is_longer[:, None])[matters].mean(axis=0)
    failures = np.cumsum(both.mean(axis=0).T, axis=0)
    first = np.cumsum((both - second).mean(axis=0).T, axis=0)
    return Sizes(MONTHS, right, failures, 2.0 * first)


def chosen_size(found: Sizes, wanted: float, value: Floats) -> tuple[int, int]:
    """Return the pairs and months of the plan.

    Parameters
    ----------
    found : Sizes
    wanted : float
        Chance of a right choice.
    value : ndarray, shape (n_pairs, n_lengths)
        What a trial of each size is worth.

    Returns
    -------
    tuple of int
        Of the sizes that reach the chance, from `LEAST_PAIRS` pairs on where there are so many,
        the one worth most; where none reaches it, or none that does is worth its cost, the one
        worth most of those that reach `LEAST_CHANCE`; where none does, the one that comes nearest.
    """
    right = np.nan_to_num(found.right_choice)
    least = min(LEAST_PAIRS, right.shape[0])
    best = (0, 0)
    for chance in (wanted, LEAST_CHANCE):
        allowed = right >= chance
        allowed[: least - 1] = False
        if allowed.any():
            worth = np.where(allowed, value, -np.inf)
            best = divmod(int(np.argmax(worth)), found.months.size)
            if worth[best] > 0.0:
                return best[0] + 1, int(found.months[best[1]])
    allowed = right >= wanted
    allowed[: least - 1] = False
    if not allowed.any():
        allowed = right >= max(LEAST_CHANCE, float(right[least - 1:].max()) - STILL_GROWS)
        allowed[: least - 1] = False
    if not allowed.any():
        return right.shape[0], int(found.months[np.argmax(right[-1])])
    months = int(np.flatnonzero(allowed.any(axis=0))[0])
    return int(np.flatnonzero(allowed[:, months])[0]) + 1, int(found.months[months])


def planned_failures(found: Sizes, n_pairs: int, at: int) -> float:
    """Return the failures at which the whole error is spent: most of those expected if alike."""
    return float(PLANNED_SHARE * found.if_alike[n_pairs - 1, at])


def claims(
    world: World, n_pairs: int, months: int, planned_failures: float, rng: np.random.Generator
) -> Claims:
    """Return how often the sequential test would claim, looking every month.

    Parameters
    ----------
    world : World
    n_pairs, months : int
    planned_failures : float
        Failures at which the whole error is spent.
    rng : Generator

    Returns
    -------
    Claims
    """
    if n_pairs < LEAST_PAIRS:
        return Claims(0.0, 0.0, float("nan"))
    looks = np.asarray(np.arange(1, months + 1) * DAYS_A_MONTH, np.float64)
    second, both, log_ratio = seen_by(world, n_pairs, looks, rng)
    share = 1.0 / (1.0 + np.exp(-log_ratio))
    differences = pair_differences(second, both, share)
    fraction = np.minimum(both.sum(axis=2) / planned_failures, 1.0)
    fraction[:, -1] = 1.0
    patterns = coin_patterns(n_pairs, 0)
    if patterns.shape[0] > MOST_PATTERNS:
        half = np.random.default_rng(0).choice(
            np.arange(1, patterns.shape[0] // 2), MOST_PATTERNS // 2 - 1, replace=False)
        kept = np.concatenate([[0], half])
        patterns = np.concatenate([patterns[kept], -patterns[kept]])
    paths = np.abs(differences @ patterns.T.astype(np.float64))
    at = stop_patterns(paths, fraction, LEVEL)[0][:, 0]
    claimed = at >= 0
    sign = np.take_along_axis(differences.sum(axis=2), np.maximum(at, 0)[:, None], 1)[:, 0]
    says_second = sign < 0.0
    is_longer, matters = world.log_ratio > 0.0, np.abs(world.log_ratio) > WORTH_KNOWING
    right = claimed & (says_second == is_longer)
    shown = float(right[matters].mean()) if matters.any() else 0.0
    mean = float(at[right].mean() + 1.0) if right.any() else float("nan")
    return Claims(shown, float((claimed & ~right).mean()), mean)
