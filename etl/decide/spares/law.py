"""The law of a part's demand: a mixture of counts over what is not known, as one table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.counts import cumulative_counts, scattered

Floats = NDArray[np.float64]

CLASSES = np.concatenate([
    np.linspace(0.0, 0.8, 17), np.linspace(0.8, 0.96, 17)[1:], np.linspace(0.96, 1.0, 17)[1:],
])
"""Shares of the mixture, ordered by mean, that are merged into one: finer where demand is high,
because that end decides a high service level."""

LEAST_REACH = 0.9999
"""The table goes on until so much probability is in it."""


@dataclass(frozen=True)
class DemandLaw:
    """How likely each demand is.

    Attributes
    ----------
    mean : float
    cumulative : ndarray, shape (n,)
        Probability of at most 0, 1, 2, ... hoses; beyond the last entry taken as 1.
    """

    mean: float
    cumulative: Floats

    def at_most(self, count: int) -> float:
        """Return the probability of at most so many; 0 below none."""
        if count < 0:
            return 0.0
        return float(self.cumulative[count]) if count < self.cumulative.size else 1.0

    def level(self, probability: float) -> int:
        """Return the smallest count that demand stays at or below so often."""
        # Rounding in the sum must not push the answer one up.
        return int(np.searchsorted(self.cumulative, probability - 1e-12))

    def share_served(self, stock: int) -> float:
        """Return the share of demands that a stock meets at once; 1 where nothing is asked for.

        Notes
        -----
        Expected demand met = sum over k < stock of P(demand > k); over expected demand.
        """
        if self.mean <= 0.0:
            return 1.0
        return min(1.0, float((1.0 - self.cumulative[:stock]).sum()) / self.mean)


    def beside(self, number: int) -> DemandLaw:
        """Return the law of this demand and of so many hoses that are needed for certain."""
        if number == 0:
            return self
        return DemandLaw(self.mean + number, np.concatenate([np.zeros(number), self.cumulative]))


def mixture(laws: Sequence[tuple[float, DemandLaw]]) -> DemandLaw:
    """Return the mixture of laws with their weights, which add up to 1."""
    if len(laws) == 1:
        return laws[0][1]
    size = max(law.cumulative.size for _, law in laws)
    total = np.zeros(size)
    for weight, law in laws:
        total += weight * np.pad(law.cumulative, (0, size - law.cumulative.size),
                                 constant_values=1.0)
    return DemandLaw(sum(weight * law.mean for weight, law in laws), np.minimum(total, 1.0))


def merged(mean: Floats, variance: Floats, weights: Floats) -> tuple[Floats, Floats, Floats]:
    """Merge the parts of a mixture of counts into few classes of like mean.

    Parameters
    ----------
    mean, variance, weights : ndarray, shape (n,)
        Weights add up to 1.

    Returns
    -------
    mean, variance, weights : ndarray, shape (n_classes,)
        Mean and variance of the whole mixture are kept: what the means scatter inside a class is
        added to its variance.
    """
    order = np.argsort(mean, kind="stable")
    weights = weights[order]
    # The middle of each part's weight decides its class.
    at = np.searchsorted(CLASSES[1:-1], np.cumsum(weights) - weights / 2.0, side="right")
    starts = np.flatnonzero(np.r_[True, np.diff(at) > 0])
    total = np.add.reduceat(weights, starts)
    first = np.add.reduceat(weights * mean[order], starts) / total
    second = np.add.reduceat(weights * (variance + mean**2)[order], starts) / total
    return first, np.maximum(second - first**2, 0.0), total


def demand_law(mean: Floats, variance: Floats, weights: Floats) -> DemandLaw:
    """Return the law of a mixture of counts of known moments.

    Parameters
    ----------
    mean, variance : ndarray, shape (n,)
        Of each part: one draw of the lives and one slice of the lead time.
    weights : ndarray, shape (n,)
        Adding up to 1.

    Returns
    -------
    DemandLaw

    Notes
    -----
    Each part is a binomial, Poisson or negative binomial count matched to its moments, from
    `etl.life.counts.cumulative_counts`.

    Examples
    --------
    >>> import numpy as np
    >>> law = demand_law(np.array([3.0]), np.array([3.0]), np.array([1.0]))
    >>> law.level(0.90), round(law.at_most(5), 3), round(3 * law.share_served(5), 3)
    (5, 0.916, 2.865)
    """
    whole = float(weights @ mean)
    if whole <= 0.0:
        return DemandLaw(0.0, np.ones(1))
    m, v, w = merged(mean, variance, weights)
    some = m > 0.0
    m, v, rest = m[some], scattered(m[some], v[some]), float(w[~some].sum())
    reach = int(np.ceil((m + 8.0 * np.sqrt(v)).max())) + 4
    while True:
        cumulative = rest + w[some] @ cumulative_counts(m, v, reach)
        if cumulative[-1] >= LEAST_REACH:
            return DemandLaw(whole, np.asarray(np.minimum(cumulative, 1.0)))
        reach *= 2
