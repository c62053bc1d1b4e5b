"""Invented trials whose truth is known, simulated life by life, and rules to judge them by.

Written apart from the simulator of the package: renewals with planned removals, retired places,
unlike shapes, hoses of the wrong construction. Months are the unit of time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.decide.trial.posterior import (
    Prior,
    pair_log_likelihood,
    posterior_weights,
    second_longer,
)
from etl.decide.trial.sign_flip import LEVEL, coin_patterns, pair_differences, stop_patterns

Floats = NDArray[np.float64]

MOST_LIVES = 60
MOST_PATTERNS = 512


@dataclass(frozen=True)
class World:
    """One kind of invented trial; see the fields of the published design study for the names."""

    n_pairs: int = 12
    months: int = 36
    mean_life: float = 12.0
    ratio: float = 1.0
    shape: float = 2.0
    second_shape: float | None = None
    pair_concentration: float = 3.0
    place_concentration: float = 12.0
    is_pair_shared: bool = True
    planned_a_month: float = 0.01
    retired_a_month: float = 0.0
    mistakes: float = 0.0
    mistakes_follow_frailty: bool = False
    early_months: float = 3.0


@dataclass(frozen=True)
class Seen:
    """What the looks of many trials count, as assigned and as treated.

    Attributes
    ----------
    failed, expected : ndarray, shape (n_trials, n_looks, n_pairs, 2)
    treated, treated_expected : ndarray
        The same by the construction fitted.
    fitted, early : ndarray, shape (n_trials, n_looks, 2)
    """

    failed: Floats
    expected: Floats
    treated: Floats
    treated_expected: Floats
    fitted: Floats
    early: Floats


def weibull_scale(mean: float, shape: float) -> float:
    """Return the characteristic life of a mean life."""
    return mean / math.gamma(1.0 + 1.0 / shape)


def simulate(world: World, n_trials: int, seed: int, log_ratio: Floats | None = None) -> Seen:
    """Simulate trials, every look monthly; the model of the null has the first arm's law."""
    rng = np.random.default_rng(seed)
    size = (n_trials, world.n_pairs, 2)
    ratio = np.full(n_trials, world.ratio) if log_ratio is None else np.exp(log_ratio)
    shapes = np.array([world.shape, world.second_shape or world.shape])
    means = np.stack([np.full(n_trials, world.mean_life), world.mean_life * ratio], axis=1)
    scales = np.stack([means[:, side] / math.gamma(1.0 + 1.0 / shapes[side])
                       for side in (0, 1)], axis=1)
    nu = world.pair_concentration
    pair = rng.gamma(nu, 1.0 / nu, (n_trials, world.n_pairs, 1 if world.is_pair_shared else 2))
    place = world.place_concentration
    frailty = pair * rng.gamma(place, 1.0 / place, size)
    end = np.minimum(rng.exponential(1.0 / max(world.retired_a_month, 1e-12), size),
                     float(world.months))
    looks = np.arange(1.0, world.months + 1.0)
    law = (world.shape, weibull_scale(world.mean_life, world.shape))
    out = [np.zeros((n_trials, looks.size, world.n_pairs, 2)) for _ in range(4)]
    fitted, early = (np.zeros((n_trials, looks.size, 2)) for _ in range(2))
    arm = np.broadcast_to(np.array([0, 1]), size)
    chance = np.full(size, world.mistakes)
    if world.mistakes_follow_frailty:
        chance = world.mistakes * 2.0 * _bad(frailty, arm)
    now = np.zeros(size)
    for _ in range(MOST_LIVES):
        if not (now < end).any():
            break
        wrong = rng.random(size) < chance
        made = np.where(wrong, 1 - arm, arm)
        scale = np.take_along_axis(np.broadcast_to(scales[:, None], size), made, axis=2)
        life = scale * (rng.exponential(size=size) / frailty) ** (1.0 / shapes[made])
        removed = rng.exponential(1.0 / max(world.planned_a_month, 1e-12), size)
        stop = np.minimum(np.minimum(now + life, now + removed), end)
        is_failure = (life <= removed) & (now + life <= end)
        _count(out, (fitted, early), looks, law, (now, stop, is_failure, arm, made),
               world.early_months)
        now = np.where(now < end, stop, np.inf)
    return Seen(*out, fitted, early)


def _bad(frailty: Floats, arm: NDArray[np.int64]) -> Floats:
    """Return 1 where the second arm's place is the worse one of its pair, and the mirror of it."""
    worse = frailty > frailty[..., ::-1]
    return np.where(arm == 1, ~worse, worse).astype(float)


def _count(out, sides, looks, law, stays, early_months):
    """Add one stay a place to every count."""
    begin, stop, is_failure, arm, made = stays
    shape, scale = law
    for at, look in enumerate(looks):
        stayed = np.clip(np.minimum(stop, look) - begin, 0.0, None)
        passed = np.where(np.isfinite(begin), (stayed / scale) ** shape, 0.0)
        dead = (is_failure & (stop <= look)).astype(float)
        out[0][:, at] += dead
        out[1][:, at] += passed
        for side in (0, 1):
            mine = made == side
            out[2][:, at, :, side] += (dead * mine).sum(axis=2)
            out[3][:, at, :, side] += (passed * mine).sum(axis=2)
            seen = (begin <= look) & (arm == side)
            sides[0][:, at, side] += seen.sum(axis=(1, 2))
            short = seen & (dead > 0) & (stop - begin < early_months)
            sides[1][:, at, side] += short.sum(axis=(1, 2))


def planned_failures(world: World, seed: int = 90) -> float:
    """Return nine tenths of the failures that a null trial of the design has at its end."""
    null = World(**{**world.__dict__, "ratio": 1.0, "mistakes": 0.0, "second_shape": None})
    return 0.9 * float(simulate(null, 200, seed).failed[:, -1].sum(axis=(1, 2)).mean())


def differences(failed: Floats, expected: Floats) -> Floats:
    """Return the second arm's failures above its share, shape (n_trials, n_looks, n_pairs)."""
    both = failed.sum(axis=3)
    total = expected.sum(axis=3)
    share = np.divide(expected[..., 1], total, out=np.full(total.shape, 0.5), where=total > 0)
    return pair_differences(failed[..., 1], both, share)


def sign_flip(
    failed: Floats, expected: Floats, planned: float, first_look: int = 0, once: bool = False
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Return the look of the claim, -1 for none, and whether the second arm fails less by it."""
    d = differences(failed, expected)
    fraction = np.minimum(failed.sum(axis=(2, 3)) / planned, 1.0)
    fraction[:, :first_look] = 0.0
    if once:
        fraction[:, :-1] = 0.0
    fraction[:, -1] = 1.0
    patterns = coin_patterns(d.shape[2], 1)
    if len(patterns) > MOST_PATTERNS:
        some = np.random.default_rng(3).choice(
            np.arange(1, len(patterns) // 2), MOST_PATTERNS // 2 - 1, replace=False)
        kept = patterns[np.concatenate([[0], some])]
        patterns = np.concatenate([kept, -kept])
    at = np.concatenate([
        stop_patterns(np.abs(d[i:i + 100] @ patterns.T.astype(float)), fraction[i:i + 100],
                      LEVEL)[0][:, 0] for i in range(0, len(d), 100)])
    sign = np.take_along_axis(d.sum(axis=2), np.maximum(at, 0)[:, None], 1)[:, 0]
    return at, sign < 0.0


def posterior(failed: Floats, expected: Floats, prior: Prior, n_grid: int = 31) -> Floats:
    """Return the chance that the second arm lasts longer, shape (n_trials, n_looks)."""
    grid = prior.grid(n_grid)
    ratio = -grid / prior.shape
    out = np.empty(failed.shape[:2])
    safe = np.maximum(expected, 1e-9)
    for look in range(failed.shape[1]):
        each = pair_log_likelihood(failed[:, look, :, 1], failed[:, look].sum(axis=2),
                                   np.log(safe[:, look, :, 1] / safe[:, look, :, 0]), prior, grid)
        out[:, look] = second_longer(posterior_weights(each.sum(axis=1), prior, grid), ratio)
    return out


def log_rank(failed: Floats, expected: Floats) -> Floats:
    """Return the paired log-rank statistic at each look, as normal theory has it."""
    both, total = failed.sum(axis=3), expected.sum(axis=3)
    share = np.divide(expected[..., 1], total, out=np.full(total.shape, 0.5), where=total > 0)
    variance = (both * share * (1.0 - share)).sum(axis=2)
    return np.divide(differences(failed, expected).sum(axis=2), np.sqrt(variance),
                     out=np.zeros(variance.shape), where=variance > 0)
