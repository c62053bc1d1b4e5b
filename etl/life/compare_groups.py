"""Do two groups of lives differ? Log-rank test, and the ratio of their lives from joint draws.

Many pairs at once: `first` and `second` number the two groups of each pair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from etl.errors import FitError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


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


@dataclass(frozen=True)
class Ratio:
    """How many times as long the first of each pair lasts, shape (n_pairs,).

    Attributes
    ----------
    middle, lower, upper : ndarray
        Median and bounds of the ratio; NaN where a draw of either life is not finite.
    is_longer_probability : ndarray, strictly within 0..1
        Probability that the first lasts longer, as far as so many draws can tell it.
    """

    middle: Floats
    lower: Floats
    upper: Floats
    is_longer_probability: Floats


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
    first: ArrayLike, second: ArrayLike,
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
    its consideration, Cancer Chemotherapy Reports 50, 163-170 (from memory; figures are checked
    in tests/published).

    Examples
    --------
    >>> test = log_rank([0, 0, 1, 1], 0.0, [1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 3.0, 4.0], 1.0, 0, 1)
    >>> test.chi_square.round(3).tolist(), test.observed.tolist()
    ([2.882], [2.0])
    """
    key, entries, ages, counts, failed = _checked(group, entry, low, high, count)
    one, two = (np.atleast_1d(np.asarray(side, np.intp)) for side in (first, second))
    grid, step = np.unique(ages[failed], return_inverse=True)
    n_groups = int(max(key.max(initial=-1), one.max(initial=-1), two.max(initial=-1))) + 1
    events = np.bincount(key[failed] * grid.size + step, counts[failed], n_groups * grid.size)
    died = events.astype(np.float64).reshape(n_groups, grid.size)
    at_risk = _at_risk(key, entries, ages, counts, n_groups, grid)
    parts = np.zeros((3, one.size))
    for group_one in np.unique(one):
        pairs = np.flatnonzero(one == group_one)
        parts[:, pairs] = _scores(died[group_one], at_risk[group_one], died[two[pairs]],
                                  at_risk[two[pairs]])
    observed, expected, variance = parts
    with np.errstate(divide="ignore", invalid="ignore"):
        statistic = np.where(variance > 0.0, (observed - expected) / np.sqrt(variance), np.nan)
    return LogRank(statistic, 2.0 * stats.norm.sf(np.abs(statistic)), observed, expected)


def life_ratio(log_first: ArrayLike, log_second: ArrayLike, confidence: float = 0.90) -> Ratio:
    """Compare lives draw by draw.

    Parameters
    ----------
    log_first, log_second : array_like, shape (n_draws, n_pairs)
        Log lives, such as log B10, of both groups in the same joint draws. Groups that lean on
        the same neighbours move together from draw to draw; pairing the draws keeps that.
    confidence : float
        Content of the bounds.

    Returns
    -------
    Ratio

    Notes
    -----
    The probability counts draws with half a draw added to either side, so that finitely many
    draws never claim certainty.

    Examples
    --------
    >>> ratio = life_ratio(np.log([[2.0], [4.0], [6.0]]), np.log([[1.0], [2.0], [8.0]]))
    >>> ratio.middle.round(9).tolist(), ratio.is_longer_probability.tolist()
    ([2.0], [0.625])
    """
    one, two = np.asarray(log_first, np.float64), np.asarray(log_second, np.float64)
    if one.shape != two.shape or one.ndim != 2:
        raise FitError(
            f"life_ratio: both sides must be (n_draws, n_pairs), found {one.shape} and "
            f"{two.shape}. Give the same draws of both groups."
        )
    known = np.isfinite(one).all(axis=0) & np.isfinite(two).all(axis=0)
    gap = np.where(known, one, 0.0) - np.where(known, two, 0.0)
    tail = 0.5 * (1.0 - confidence)
    lower, middle, upper = np.exp(np.quantile(gap, [tail, 0.5, 1.0 - tail], axis=0))
    longer = ((gap > 0.0).sum(axis=0) + 0.5 * (gap == 0.0).sum(axis=0) + 0.5) / (gap.shape[0] + 1)
    return Ratio(*(np.where(known, part, np.nan) for part in (middle, lower, upper, longer)))


def shape_ratio(
    shape: ArrayLike, lower: ArrayLike, upper: ArrayLike, first: ArrayLike, second: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return the shape of the first group over that of the second, with bounds.

    Parameters
    ----------
    shape, lower, upper : array_like, shape (n_groups,)
        Estimates of disjoint sets of lives, each on its own data alone, with bounds; NaN without
        an estimate, 0 or infinity at an open bound.
    first, second : array_like of int, shape (n_pairs,)

    Returns
    -------
    middle, lower, upper : ndarray, shape (n_pairs,)
        Bounds of the content of those given.

    Notes
    -----
    The distances of the bounds from the estimates, in the logarithm, add up as squares, each
    side with the bounds that push the ratio its way; so skew of either survives.

    References
    ----------
    Zou, G. Y. and Donner, A. (2008), Construction of confidence limits about effect measures,
    Statistics in Medicine 27, 1693-1702 (from memory).

    Examples
    --------
    >>> ratio = shape_ratio([2.0, 1.0], [1.0, 1.0], [4.0, 1.0], [0], [1])
    >>> [part.round(9).tolist() for part in ratio]
    [[2.0], [1.0], [4.0]]
    """
    one, two = np.asarray(first, np.intp), np.asarray(second, np.intp)
    with np.errstate(divide="ignore", invalid="ignore"):
        log = [np.log(np.asarray(part, np.float64)) for part in (shape, lower, upper)]
        middle = log[0][one] - log[0][two]
        down = np.hypot(log[0][one] - log[1][one], log[2][two] - log[0][two])
        up = np.hypot(log[2][one] - log[0][one], log[0][two] - log[1][two])
        return np.exp(middle), np.exp(middle - down), np.exp(middle + up)


def _scores(
    died: Floats, at_risk: Floats, other_died: Floats, other_at_risk: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return observed and expected failures of one group and their variance, against others."""
    n = at_risk + other_at_risk
    both = (at_risk > 0.0) & (other_at_risk > 0.0)
    d = np.where(both, died + other_died, 0.0)
    share = at_risk / np.maximum(n, 1.0)
    left = (n - d) / np.maximum(n - 1.0, 1.0)
    observed = np.where(both, died, 0.0).sum(axis=-1)
    return observed, (d * share).sum(axis=-1), (d * share * (1.0 - share) * left).sum(axis=-1)


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
