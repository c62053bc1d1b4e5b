"""Claim of a trial: a sequential test that flips signs inside pairs, with its error spent by plan.

If the constructions do not differ at all, the coins of the pairs had nothing to do with what
happened at the places. Given the histories, every pattern of coins was then equally likely, and
the true one is as likely as any other to be among the patterns stopped. So the error is what was
spent, whatever the places, the ageing, the retirements and the number of looks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEVEL = 0.05
"""Chance of a claim where the constructions do not differ, over all looks together."""
SPENDING_POWER = 1.5
"""Error spent by a share f of the failures planned: level x f to this power."""
LEAST_PAIRS = 6
"""With fewer, the most extreme pattern and its mirror are already more than the level."""
MOST_ENUMERATED = 12
"""Pairs up to which all patterns of coins are listed; beyond, as many are drawn."""
CLOSE = 1e-9
"""Differences of statistics below this are ties; ties are not stopped."""


@dataclass(frozen=True)
class Looks:
    """The test at each look.

    Attributes
    ----------
    statistic : ndarray, shape (n_looks,)
        Failures of the second arm above its share of its pairs' failures, summed over pairs.
    boundary : ndarray, shape (n_looks,)
        The claim is made when the statistic lies beyond this, either way; infinite where the
        error allowed so far is too little to stop any pattern.
    spent : ndarray, shape (n_looks,)
        Error spent so far.
    claimed_at : int
        Look at which the claim was made; -1 where none was.
    """

    statistic: Floats
    boundary: Floats
    spent: Floats
    claimed_at: int


def coin_patterns(n_pairs: int, seed: int) -> NDArray[np.int8]:
    """Return patterns of coins as signs, the true one first.

    Parameters
    ----------
    n_pairs : int
        From 1 on.
    seed : int
        Start of the draws beyond `MOST_ENUMERATED` pairs.

    Returns
    -------
    ndarray, shape (n_patterns, n_pairs)
        Every pattern with its mirror; the first row is all ones.
    """
    half = 2 ** (min(n_pairs, MOST_ENUMERATED) - 1)
    if n_pairs <= MOST_ENUMERATED:
        bits = (np.arange(half)[:, None] >> np.arange(n_pairs)) & 1
        # The last pair keeps its sign in this half; the mirrors hold the rest.
        signs = 1 - 2 * bits
    else:
        signs = 1 - 2 * np.random.default_rng(seed).integers(0, 2, (half, n_pairs))
        signs[0] = 1
    return np.concatenate([signs, -signs]).astype(np.int8)


def pair_differences(failed_second: Floats, failed: Floats, share: Floats) -> Floats:
    """Return by how much the second arm failed more than its share of the pair's failures.

    Parameters
    ----------
    failed_second, failed : ndarray, any shape
        Failures of the second arm, and of both arms together.
    share : ndarray
        Expected failures of the second arm over those of both, by a law fixed before the start
        and the same for both arms; one half where nothing is expected yet.

    Returns
    -------
    ndarray
        Exchanging the arms changes nothing but the sign.
    """
    return np.asarray(failed_second - failed * share)


def spending(fraction: Floats, level: float = LEVEL) -> Floats:
    """Return the error that may be spent once a share of the planned failures was seen."""
    return level * np.minimum(np.maximum(fraction, 0.0), 1.0) ** SPENDING_POWER


def sequential_looks(
    differences: Floats, fraction: Floats, patterns: NDArray[np.int8], level: float = LEVEL
) -> Looks:
    """Run the test over the looks of one trial.

    Parameters
    ----------
    differences : ndarray, shape (n_looks, n_pairs)
        From `pair_differences`, at each look since the start.
    fraction : ndarray, shape (n_looks,)
        Share of the planned failures seen by each look, never falling; 1 at the planned end.
        It must not depend on which arm failed.
    patterns : ndarray, shape (n_patterns, n_pairs)
        From `coin_patterns`.
    level : float

    Returns
    -------
    Looks
        The path ends with its last look, also after a claim.

    Notes
    -----
    At each look, of the patterns not yet stopped, those with the largest statistic are stopped,
    as many as keep all stopped within the error allowed. The claim is made when the true one is
    stopped. Re-randomisation and spending of error are textbook (from memory); their use on
    pairs of places is ours.
    """
    paths = np.abs(differences[None] @ patterns.T.astype(np.float64))
    stopped, boundary, spent = stop_patterns(paths, fraction[None], level)
    claimed = stopped[0, 0]
    return Looks(differences.sum(axis=1), boundary[0], spent[0], int(claimed))


def stop_patterns(paths: Floats, fraction: Floats, level: float) -> tuple[Ints, Floats, Floats]:
    """Stop the patterns of many trials at once.

    Parameters
    ----------
    paths : ndarray, shape (n_trials, n_looks, n_patterns)
        Absolute statistics.
    fraction : ndarray, shape (n_trials, n_looks)
    level : float

    Returns
    -------
    stopped_at : ndarray of int, shape (n_trials, n_patterns)
        Look at which each pattern was stopped, -1 where it never was.
    boundary, spent : ndarray, shape (n_trials, n_looks)
    """
    n_trials, n_looks, n = paths.shape
    stopped_at = np.full((n_trials, n), -1, np.int64)
    boundary, spent = np.full((n_trials, n_looks), np.inf), np.zeros((n_trials, n_looks))
    rows, n_stopped = np.arange(n_trials), np.zeros(n_trials, np.int64)
    allowed = np.floor(spending(np.maximum.accumulate(fraction, axis=1), level) * n + CLOSE)
    for look in range(n_looks):
        alive = np.where(stopped_at < 0, paths[:, look], -1.0)
        room = allowed[:, look].astype(np.int64) - n_stopped
        # With room for m patterns, whatever exceeds the (m + 1)-th largest is stopped.
        ranked = -np.sort(-alive, axis=1)
        limit = np.maximum(ranked[rows, np.minimum(room, n - 1)], 0.0)
        new = (alive > limit[:, None] + CLOSE) & (room > 0)[:, None]
        stopped_at[new] = look
        n_stopped += new.sum(axis=1)
        boundary[room > 0, look] = limit[room > 0]
        spent[:, look] = n_stopped / n
    return stopped_at, boundary, spent
