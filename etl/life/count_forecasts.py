"""Forecasts of counts as whole distributions, kept compactly so that they can be scored later."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.counts import count_probability

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEGLIGIBLE = 1e-7
"""Probability left out at either end of a kept distribution."""

MOST_PARTS = 20
"""Parts of a mixture that are worked out; more are put together in classes of equal size."""

LOW_SPREADS = 7.0
"""Standard deviations below the mean at which a distribution of a large mean starts."""


@dataclass(frozen=True)
class CountForecasts:
    """Cumulative distributions of many counts, one behind the other.

    Attributes
    ----------
    first : ndarray of int, shape (n,)
        Count that the first kept value of each distribution belongs to; below it the chance
        is taken as 0.
    start : ndarray of int, shape (n + 1,)
        Where each distribution begins in `below`, and where the last one ends.
    below : ndarray, shape (start[-1],)
        Chance of at most ``first``, ``first + 1``, ... events; 1 after the last kept value.
    """

    first: Ints
    start: Ints
    below: Floats

    @property
    def size(self) -> Ints:
        """Kept values of each distribution."""
        return np.diff(self.start)

    def at_most(self, count: Ints) -> Floats:
        """Return the chance of at most so many events.

        Parameters
        ----------
        count : ndarray of int, shape (n,)

        Returns
        -------
        ndarray, shape (n,)
        """
        at = count - self.first
        inside = (at >= 0) & (at < self.size)
        found = np.where(at < 0, 0.0, 1.0)
        found[inside] = self.below[(self.start[:-1] + at)[inside]]
        return found

    def quantile(self, probability: float) -> Ints:
        """Return the smallest count that each forecast stays at or below so often.

        Parameters
        ----------
        probability : float, 0..1

        Returns
        -------
        ndarray of int, shape (n,)
        """
        # Rounding in a sum of many parts must not push the answer one up.
        under = np.r_[0, np.cumsum(self.below < probability - 1e-12)]
        found: Ints = self.first + under[self.start[1:]] - under[self.start[:-1]]
        return found


def mixture_counts(mean: Floats, variance: Floats) -> CountForecasts:
    """Return the distributions of mixtures of equally likely counts of given moments.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_mixtures, n_parts)
        Moments of each part of each mixture, such as one draw of the parameters; both > 0 or
        both 0.

    Returns
    -------
    CountForecasts
        Up to `NEGLIGIBLE` of the probability at either end is left out.

    Notes
    -----
    Parts in a multiple of `MOST_PARTS` are sorted by their mean and put together in classes of
    equal size; the variance of means within a class counts as variance of its count, so that
    mean and variance of the mixture stay as they are.

    Examples
    --------
    >>> import numpy as np
    >>> kept = mixture_counts(np.array([[3.0]]), np.array([[3.0]]))
    >>> int(kept.quantile(0.05)[0]), int(kept.quantile(0.95)[0])
    (1, 6)
    """
    mean, variance = _in_classes(np.asarray(mean, np.float64), np.asarray(variance, np.float64))
    n = mean.shape[0]
    spread = np.sqrt(variance.mean(axis=1) + mean.var(axis=1))
    low = np.maximum(0, np.floor(mean.mean(axis=1) - LOW_SPREADS * spread - 10.0)).astype(np.int64)
    kept: list[list[float]] = [[] for _ in range(n)]
    for begin in np.unique(low):
        rows, count = np.flatnonzero(low == begin), int(begin)
        while rows.size:
            parts = count_probability(count, mean[rows].ravel(), variance[rows].ravel())
            passed = parts.reshape(rows.size, -1).mean(axis=1)
            for row, value in zip(rows, passed, strict=True):
                kept[row].append(min(float(value), 1.0))
            rows, count = rows[passed < 1.0 - NEGLIGIBLE], count + 1
    start = np.r_[0, np.cumsum([len(values) for values in kept])].astype(np.int64)
    below = np.concatenate([np.zeros(0), *(np.asarray(values) for values in kept)])
    return CountForecasts(low, start, np.minimum(below, 1.0))


def _in_classes(mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Put the parts of each mixture together in `MOST_PARTS` classes, where they divide evenly."""
    n, n_parts = mean.shape
    if n_parts <= MOST_PARTS or n_parts % MOST_PARTS:
        return mean, variance
    order = np.argsort(mean, axis=1, kind="stable")
    mean, variance = (np.take_along_axis(part, order, axis=1).reshape(n, MOST_PARTS, -1)
                      for part in (mean, variance))
    return mean.mean(axis=2), variance.mean(axis=2) + mean.var(axis=2)
