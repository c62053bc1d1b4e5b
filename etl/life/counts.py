"""Distributions of future counts: mixtures, over draws, of counts with two known moments."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Real = TypeVar("Real", np.float32, np.float64)

NEARLY_POISSON = 1e-6
"""Relative gap between variance and mean below which a count is taken as Poisson."""


def count_probability(at_most: int, mean: Floats, variance: Floats) -> Floats:
    """Return the probability of at most so many events for counts of given moments.

    Parameters
    ----------
    at_most : int
        Must be >= 0.
    mean, variance : ndarray, shape (n,)
        Mean and variance of each count, both > 0 or both 0.

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    Variance below the mean: binomial; equal: Poisson; above: negative binomial, each matched to
    the two moments and continued to fractional numbers of trials through the incomplete beta
    function.

    References
    ----------
    Johnson, N. L., Kemp, A. W. and Kotz, S. (2005), Univariate Discrete Distributions, Wiley
    (the three laws as incomplete beta and gamma functions; from memory).
    """
    mean, variance = np.asarray(mean, np.float64), np.asarray(variance, np.float64)
    result = np.ones(mean.shape)
    ratio = np.divide(variance, mean, out=np.ones(mean.shape), where=mean > 0)
    poisson = (mean > 0) & (np.abs(ratio - 1.0) <= NEARLY_POISSON)
    result[poisson] = special.gammaincc(at_most + 1.0, mean[poisson])
    under = (mean > 0) & (ratio < 1.0 - NEARLY_POISSON)
    trials = mean[under] / (1.0 - ratio[under])
    chance = 1.0 - ratio[under]
    inside = trials > at_most
    below = np.ones(trials.shape)
    below[inside] = special.betaincc(at_most + 1.0, trials[inside] - at_most, chance[inside])
    result[under] = below
    over = (mean > 0) & (ratio > 1.0 + NEARLY_POISSON)
    size = mean[over] / (ratio[over] - 1.0)
    result[over] = special.betainc(size, at_most + 1.0, 1.0 / ratio[over])
    return result


def count_quantile(
    mean: Floats, variance: Floats, probability: float, weights: Floats | None = None
) -> int:
    """Return the smallest count that a mixture of counts stays at or below so often.

    Parameters
    ----------
    mean, variance : ndarray, shape (n,)
        Moments of each part of the mixture, such as one draw of the parameters.
    probability : float, 0..1
    weights : ndarray, shape (n,), optional
        Weights of the parts, adding up to 1; equal when left out.

    Returns
    -------
    int

    Examples
    --------
    >>> import numpy as np
    >>> count_quantile(np.array([3.0]), np.array([3.0]), 0.95)
    6
    """
    share = np.full(mean.shape, 1.0 / max(mean.size, 1)) if weights is None else weights

    def below(count: int) -> float:
        return float(share @ count_probability(count, mean, variance))

    wanted = probability - 1e-12  # rounding in the sum must not push the answer one up
    centre = share @ mean
    spread = np.sqrt(share @ (variance + (mean - centre) ** 2))
    guess = max(int(centre + spread * special.ndtri(probability)), 0)
    step = 1 + int(0.1 * spread)
    low, high = guess - step, guess
    while low >= 0 and below(low) >= wanted:
        low, high, step = low - 2 * step, low, 2 * step
    low = max(low, -1)
    while below(high) < wanted:
        low, high, step = high, high + step, 2 * step
    while high - low > 1:  # invariant: below(low) < wanted <= below(high)
        middle = (low + high) // 2
        low, high = (low, middle) if below(middle) >= wanted else (middle, high)
    return high


def count_range(
    mean: Floats, variance: Floats, confidence: float, weights: Floats | None = None
) -> tuple[int, int]:
    """Return the central predictive range of a mixture of counts.

    Parameters
    ----------
    mean, variance, weights
        As in `count_quantile`.
    confidence : float
        Content, at least.

    Returns
    -------
    lower, upper : int
    """
    tail = (1.0 - confidence) / 2.0
    return (
        count_quantile(mean, variance, tail, weights),
        count_quantile(mean, variance, 1.0 - tail, weights),
    )


LEAST_VARIANCE = 1e-3
"""Of a count, as a share of its mean: single months of a forecast are rounded, and a planned
change alone scatters not at all."""


def scattered(mean: NDArray[Real], variance: NDArray[Real]) -> NDArray[Real]:
    """Return variances, raised where a count of that mean would hardly scatter."""
    raised: NDArray[Real] = np.maximum(variance, LEAST_VARIANCE * mean)
    return raised


def cumulative_counts(mean: Floats, variance: Floats, reach: int) -> Floats:
    """Return the probability of at most 0, 1, ... events for counts of given moments.

    Parameters
    ----------
    mean, variance : ndarray, shape (n,)
        Moments of each count, > 0.
    reach : int
        Largest number of events.

    Returns
    -------
    ndarray, shape (n, reach + 1)

    Notes
    -----
    The three laws of `count_probability` obey one recursion: with r the ratio of variance to mean
    m, p(0) = exp(-m log(r) / (r - 1)) and p(k + 1) = p(k) (m + k (r - 1)) / (r (k + 1)), here in
    logarithms, so that large means do not underflow. A binomial count of a fractional number of
    trials ends where the next term would be negative.

    References
    ----------
    Panjer, H. H. (1981), Recursive evaluation of a family of compound distributions, ASTIN
    Bulletin 12, 22-26 (the family of laws; from memory).

    Examples
    --------
    >>> cumulative_counts(np.array([3.0]), np.array([3.0]), 2).round(4).tolist()
    [[0.0498, 0.1991, 0.4232]]
    """
    excess, log_none = _log_none(mean, variance)
    k = np.arange(reach, dtype=np.float64)
    top = mean[:, None] + k * excess[:, None]
    ends = top <= 0.0
    steps = np.log(np.where(ends, 1.0, top)) - np.log((excess + 1.0)[:, None] * (k + 1.0))
    log_mass = log_none[:, None] + np.concatenate(
        [np.zeros((mean.size, 1)), np.cumsum(steps, axis=1)], axis=1)
    over = np.concatenate([np.zeros((mean.size, 1), bool), np.cumsum(ends, axis=1) > 0], axis=1)
    mass = np.where(over, 0.0, np.exp(log_mass))
    return np.where(over, 1.0, np.minimum(np.cumsum(mass, axis=1), 1.0))


LARGE_MEAN = 40.0
"""Mean beyond which stepping through the counts one by one is slower than searching."""


AT_ONCE = 256
"""Mixtures stepped through together: few enough to stay in the cache."""


def count_ranges(
    mean: NDArray[Real], variance: NDArray[Real], confidence: float
) -> tuple[Ints, Ints]:
    """Return the central predictive ranges of many mixtures of equally likely parts at once.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_mixtures, n_parts)
        Moments of each part of each mixture, both > 0 or both 0.
    confidence : float
        Content, at least.

    Returns
    -------
    lower, upper : ndarray of int, shape (n_mixtures,)

    Notes
    -----
    The recursion of `cumulative_counts`, one number of events at a time for all mixtures that are
    still open. Mixtures of a large mean are searched with `count_quantile` instead.

    Examples
    --------
    >>> import numpy as np
    >>> count_ranges(np.array([[3.0], [0.0]]), np.array([[3.0], [0.0]]), 0.90)
    (array([1, 0]), array([6, 0]))
    """
    tail = (1.0 - confidence) / 2.0
    wanted = np.array([[tail], [1.0 - tail]]) - 1e-12
    found = np.full((2, mean.shape[0]), -1)
    large = np.flatnonzero(mean.max(axis=1, initial=0.0) > LARGE_MEAN)
    for row in large:
        found[:, row] = count_range(mean[row], variance[row], confidence)
    small = np.flatnonzero(found[0] < 0)
    for rows in np.split(small, np.arange(AT_ONCE, small.size, AT_ONCE)):
        found[:, rows] = _step_through(mean[rows], variance[rows], wanted)
    return found[0], found[1]


def _step_through(
    mean: NDArray[Real], variance: NDArray[Real], wanted: Floats
) -> Ints:
    """Return the counts at which mixtures of small mean reach levels, shape (2, n_mixtures)."""
    m = mean.astype(np.float64)
    excess, log_none = _log_none(m, variance.astype(np.float64))
    ratio, mass = excess + 1.0, np.exp(log_none)
    passed = mass.copy()
    found, rows = np.full((2, m.shape[0]), -1), np.arange(m.shape[0])
    count = 0
    while rows.size:
        level = np.minimum(passed, 1.0).mean(axis=1)
        reached = (level >= wanted) & (found[:, rows] < 0)
        found[:, rows] = np.where(reached, count, found[:, rows])
        open_ = found[1, rows] < 0
        if not open_.all():
            rows, m, excess, ratio = rows[open_], m[open_], excess[open_], ratio[open_]
            mass, passed = mass[open_], passed[open_]
        mass *= np.maximum(m + count * excess, 0.0) / (ratio * (count + 1))
        count += 1
        passed += mass
        passed[m + count * excess <= 0.0] = 1.0  # no more trials left
    return found


def _log_none(mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Return the ratio of variance to mean less 1, and the log of the chance of no event."""
    ratio = np.divide(variance, mean, out=np.ones(mean.shape), where=mean > 0)
    excess = ratio - 1.0
    excess[np.abs(excess) <= NEARLY_POISSON] = 0.0
    slope = np.divide(np.log1p(excess), excess, out=np.ones(mean.shape), where=excess != 0.0)
    return excess, -mean * slope
