"""What is seen of a running trial at each look, by place: failures, and failures expected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.decide.trial.posterior import LifeRatio, Prior, life_ratio, pair_log_likelihood
from etl.decide.trial.sign_flip import Looks, coin_patterns, pair_differences, sequential_looks
from etl.decide.trial.simulate import FixedLaw

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Stays:
    """Stays of hoses in a trial.

    Attributes
    ----------
    slot : ndarray of int, shape (n,)
        Pair and arm: twice the pair, plus 1 for the second arm.
    begin, end : ndarray, shape (n,), days after the start
        The end is the removal, or the last day seen.
    age : ndarray, shape (n,), days
        Age of the hose when it went in.
    rate : ndarray, shape (n,)
        Multiplier of the hazard at the place, as known before the start.
    is_failure : ndarray of bool, shape (n,)
    """

    slot: Ints
    begin: Floats
    end: Floats
    age: Floats
    rate: Floats
    is_failure: Bools

    def only(self, kept: Bools) -> Stays:
        """Return some of the stays."""
        return Stays(self.slot[kept], self.begin[kept], self.end[kept], self.age[kept],
                     self.rate[kept], self.is_failure[kept])


@dataclass(frozen=True)
class Seen:
    """What every look counts.

    Attributes
    ----------
    failed : ndarray, shape (n_looks, n_pairs, 2)
        Failures of the first and the second arm so far.
    expected : ndarray, shape (n_looks, n_pairs, 2)
        Failures expected so far by the law fixed before the start, were the arms alike.
    """

    failed: Floats
    expected: Floats

    @property
    def log_expected_ratio(self) -> Floats:
        """Log of failures expected of the second arm over the first; 0 where none is yet."""
        least = np.maximum(self.expected, 1e-9)
        known = (self.expected > 0.0).all(axis=2)
        return np.where(known, np.log(least[..., 1]) - np.log(least[..., 0]), 0.0)

    @property
    def share(self) -> Floats:
        """Share of the second arm in the failures expected of a pair."""
        return np.asarray(1.0 / (1.0 + np.exp(-self.log_expected_ratio)))


def seen_at(stays: Stays, looks: Floats, law: FixedLaw, n_pairs: int) -> Seen:
    """Count failures and expected failures of each pair and arm by each look.

    Parameters
    ----------
    stays : Stays
    looks : ndarray, shape (n_looks,), days after the start
    law : FixedLaw
        Fixed before the start, the same for both arms.
    n_pairs : int

    Returns
    -------
    Seen
    """
    shape = (looks.size, n_pairs, 2)
    failed, hazard = np.zeros((looks.size, 2 * n_pairs)), np.zeros((looks.size, 2 * n_pairs))
    stayed = np.clip(looks[:, None] - stays.begin, 0.0, stays.end - stays.begin)
    passed = ((stays.age + stayed) / law.life_days) ** law.shape - (
        stays.age / law.life_days) ** law.shape
    dead = stays.is_failure & (stays.end <= looks[:, None])
    for at in range(looks.size):
        failed[at] = np.bincount(stays.slot, dead[at].astype(float), 2 * n_pairs)
        hazard[at] = np.bincount(stays.slot, passed[at] * stays.rate, 2 * n_pairs)
    return Seen(failed.reshape(shape), hazard.reshape(shape))


def favoured(seen: Seen, prior: Prior, confidence: float) -> LifeRatio:
    """Return the posterior of the life ratio, second over first, at each look.

    Parameters
    ----------
    seen : Seen
    prior : Prior
        As believed before the start.
    confidence : float

    Returns
    -------
    LifeRatio
        Arrays of shape (n_looks,).
    """
    grid = prior.grid()
    each = pair_log_likelihood(seen.failed[..., 1], seen.failed.sum(axis=2),
                               seen.log_expected_ratio, prior, grid)
    return life_ratio(each.sum(axis=1), prior, grid, confidence)


def claim_test(seen: Seen, planned_failures: float, is_last: bool, seed: int) -> Looks:
    """Return the sequential test over the looks so far.

    Parameters
    ----------
    seen : Seen
    planned_failures : float
        Failures at which the whole error is spent, fixed before the start.
    is_last : bool
        The last look is the planned end: the whole error is spent then.
    seed : int
        Start of the coin patterns where there are too many pairs to list them all.

    Returns
    -------
    Looks
    """
    both = seen.failed.sum(axis=2)
    fraction = np.minimum(both.sum(axis=1) / planned_failures, 1.0)
    if is_last:
        fraction[-1] = 1.0
    differences = pair_differences(seen.failed[..., 1], both, seen.share)
    return sequential_looks(differences, fraction, coin_patterns(both.shape[1], seed))


def early_counts(
    stays: Stays, looks: Floats, early_days: float
) -> tuple[Floats, Floats]:
    """Count hoses fitted and early failures of both arms by each look.

    Returns
    -------
    fitted, early : ndarray, shape (n_looks, 2)
    """
    arm = stays.slot % 2
    is_early = stays.is_failure & (stays.age + stays.end - stays.begin < early_days)
    fitted, early = np.zeros((looks.size, 2)), np.zeros((looks.size, 2))
    for at, look in enumerate(looks):
        for side in (0, 1):
            mine = arm == side
            fitted[at, side] = (mine & (stays.begin <= look)).sum()
            early[at, side] = (mine & is_early & (stays.end <= look)).sum()
    return fitted, early
