"""Distributions of future counts: mixtures, over draws, of counts with two known moments."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]

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
    high = 1
    while below(high - 1) < wanted:
        high *= 2
    low = high // 2 - 1 if high > 1 else -1
    high -= 1
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
