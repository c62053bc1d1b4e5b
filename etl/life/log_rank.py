"""Log-rank tests of two groups of lives, many pairs at once, with weights by age if wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from etl.errors import FitError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

EVEN, AT_RISK, ROOT_AT_RISK, SURVIVAL, EARLY, LATE = (
    "even", "at risk", "root of those at risk", "survival", "early", "late")
"""Weight of the failures at an age: 1 (log-rank); lives at risk (Gehan, Wilcoxon); their root
(Tarone and Ware); survival of both groups to just after (Peto and Peto, failures over lives at
risk plus one); survival to just before, and share failed by then (Fleming and Harrington)."""


@dataclass(frozen=True)
class LogRank:
    """Log-rank test of each pair, shape (n_pairs,).

    Attributes
    ----------
    statistic : ndarray
        Signed root of chi-square: above 0 where the first group fails sooner. NaN where the two
        were never at risk together while one of them failed.
    p_value : ndarray
        Two-sided; NaN where the statistic is.
    observed, expected : ndarray
        Failures of the first group while both were at risk, and those expected were both alike.
    """

    statistic: Floats
    p_value: Floats
    observed: Floats
    expected: Floats

    @property
    def chi_square(self) -> Floats:
        """The statistic as it is usually printed, one degree of freedom."""
        return np.asarray(self.statistic**2)


def stated_age(low: ArrayLike, high: ArrayLike) -> Floats:
    """Return one age for each life: the middle of its interval for a hose found failed.

    Parameters
    ----------
    low, high : array_like, shape (n,)
        Age at the end. Equal: failed at that age. ``high`` infinite: suspended at ``low``.

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    >>> stated_age([10.0, 10.0, 10.0], [10.0, np.inf, 30.0]).tolist()
    [10.0, 10.0, 20.0]
    """
    lows, highs = np.asarray(low, np.float64), np.asarray(high, np.float64)
    return np.asarray(np.where(np.isfinite(highs), 0.5 * (lows + highs), lows))


def log_rank(
    group: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    first: ArrayLike, second: ArrayLike, weight: str = EVEN,
) -> LogRank:
    """Test for each pair of groups whether they fail at the same rate at every age.

    Parameters
    ----------
    group : array_like of int, shape (n,)
        Group of each life, 0 or above.
    entry : array_like, shape (n,) or one number
        Age at entry: a life is at risk after its entry age, up to and with its end.
    low, high : array_like, shape (n,)
        Age at the end, as in `stated_age`, which is the age that a failed life is given.
    count : array_like, shape (n,) or one number
        Lives that a row stands for.
    first, second : array_like of int, shape (n_pairs,)
        Groups of each pair.
    weight : str
        Of the failures at each age, one of those above: where a difference is looked for. Those
        by survival do not depend on how the lives were watched.

    Returns
    -------
    LogRank

    Raises
    ------
    FitError
        Lengths differ, or a group is negative.

    Notes
    -----
    At every age of a failure, the failures of the first group are compared with its share of the
    lives at risk; the variance is hypergeometric, which deals with ties. A suspension at the age
    of a failure is still at risk there. No shape of life is supposed.

    References
    ----------
    Mantel, N. (1966), Evaluation of survival data and two new rank order statistics arising in
    its consideration, Cancer Chemotherapy Reports 50, 163-170; Fleming, T. R. and Harrington, D. P.
    (1991), Counting Processes and Survival Analysis, Wiley, chapter 7, on weights (both from
    memory; figures are checked in tests/published).

    Examples
    --------
    >>> test = log_rank([0, 0, 1, 1], 0.0, [1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 3.0, 4.0], 1.0, 0, 1)
    >>> test.chi_square.round(3).tolist(), test.observed.tolist()
    ([2.882], [2.0])
    """
    return log_ranks(group, entry, low, high, count, first, second, (weight,))[0]


def log_ranks(
    group: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    first: ArrayLike, second: ArrayLike, weights: Sequence[str],
) -> list[LogRank]:
    """Return the test of `log_rank` under several weights; parameters as there."""
    key, entries, ages, counts, failed = _checked(group, entry, low, high, count)
    one, two = (np.atleast_1d(np.asarray(side, np.intp)) for side in (first, second))
    grid, step = np.unique(ages[failed], return_inverse=True)
    n_groups = int(max(key.max(initial=-1), one.max(initial=-1), two.max(initial=-1))) + 1
    events = np.bincount(key[failed] * grid.size + step, counts[failed], n_groups * grid.size)
    died = events.astype(np.float64).reshape(n_groups, grid.size)
    at_risk = _at_risk(key, entries, ages, counts, n_groups, grid)
    parts = np.zeros((2 + 2 * len(weights), one.size))
    for group_one in np.unique(one):
        pairs = np.flatnonzero(one == group_one)
        parts[:, pairs] = _scores(died[group_one], at_risk[group_one], died[two[pairs]],
                                  at_risk[two[pairs]], weights)
    observed, expected = parts[:2]
    tests = []
    for excess, variance in zip(parts[2::2], parts[3::2], strict=True):
        with np.errstate(divide="ignore", invalid="ignore"):
            statistic = np.where(variance > 0.0, excess / np.sqrt(variance), np.nan)
        p_value = 2.0 * stats.norm.sf(np.abs(statistic))
        tests.append(LogRank(statistic, p_value, observed, expected))
    return tests


def _scores(
    died: Floats, at_risk: Floats, other_died: Floats, other_at_risk: Floats,
    weights: Sequence[str],
) -> list[Floats]:
    """Return observed and expected failures of one group, then by weight excess and variance."""
    n, fallen = at_risk + other_at_risk, died + other_died
    both = (at_risk > 0.0) & (other_at_risk > 0.0)
    d = np.where(both, fallen, 0.0)
    share = at_risk / np.maximum(n, 1.0)
    left = (n - d) / np.maximum(n - 1.0, 1.0)
    own, expected = np.where(both, died, 0.0), d * share
    variance = expected * (1.0 - share) * left
    parts = [own.sum(axis=-1), expected.sum(axis=-1)]
    for weight in weights:
        w = _weight(weight, n, fallen)
        parts += [(w * (own - expected)).sum(axis=-1), (w * w * variance).sum(axis=-1)]
    return parts


def _weight(weight: str, n: Floats, fallen: Floats) -> Floats:
    """Return the weight of the failures at each age, from lives at risk and failures of both."""
    if weight == EVEN:
        return np.ones_like(n)
    if weight in (AT_RISK, ROOT_AT_RISK):
        return n if weight == AT_RISK else np.sqrt(n)
    one_more = 1.0 if weight == SURVIVAL else 0.0
    alive: Floats = np.asarray(
        np.cumprod(1.0 - fallen / np.maximum(n + one_more, 1.0), axis=-1), np.float64)
    if weight == SURVIVAL:
        return alive
    before: Floats = np.concatenate([np.ones_like(alive[..., :1]), alive[..., :-1]], axis=-1)
    return before if weight == EARLY else 1.0 - before


def _at_risk(
    key: Ints, entry: Floats, age: Floats, count: Floats, n_groups: int, grid: Floats
) -> Floats:
    """Return the lives at risk at each age of the grid, shape (n_groups, n_ages)."""
    table = np.zeros((n_groups, grid.size))
    order = np.argsort(key, kind="stable")
    borders = np.searchsorted(key[order], np.arange(n_groups + 1))
    for number in range(n_groups):
        rows = order[borders[number]:borders[number + 1]]
        table[number] = (_below(entry[rows], count[rows], grid)
                         - _below(age[rows], count[rows], grid))
    return table


def _below(value: Floats, count: Floats, grid: Floats) -> Floats:
    """Return how many values lie below each age of the grid."""
    order = np.argsort(value, kind="stable")
    so_far = np.concatenate([[0.0], np.cumsum(count[order])])
    return np.asarray(so_far[np.searchsorted(value[order], grid, side="left")])


def _checked(
    group: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike
) -> tuple[Ints, Floats, Floats, Floats, NDArray[np.bool_]]:
    """Return group, entry, stated age, count and whether failed; lives seen for no time left out.

    Raises
    ------
    FitError
        Lengths differ, or a group is negative.
    """
    key, highs = np.asarray(group, np.intp), np.asarray(high, np.float64)
    ages = stated_age(low, high)
    if ages.shape != key.shape or key.ndim != 1 or bool(np.any(key < 0)):
        raise FitError(
            f"log_rank: one group from 0 up is wanted for each of {ages.size} lives, found "
            f"{key.shape}, least {key.min(initial=0)}. Give columns of one length."
        )
    entries, counts = (np.broadcast_to(np.asarray(part, np.float64), key.shape)
                       for part in (entry, count))
    seen = ages > entries
    return key[seen], entries[seen], ages[seen], counts[seen], np.isfinite(highs)[seen]
