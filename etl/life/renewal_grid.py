"""Renewals on a grid of steps: means and pairs of failures of hoses that replace one another.

Arrays have the steps first, so that each step works on contiguous memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]

SERIES_UP_TO = np.float32(0.75)
"""Hazard of a step up to which the place of a failure in it is read from a series."""


@dataclass(frozen=True)
class Steps:
    """How one hose fails over the steps.

    Attributes
    ----------
    failed : ndarray, shape (n_steps, ...)
        Chance of having failed by the end of each step.
    early, late : ndarray, shape (n_steps, ...)
        Chance of failing in each step, shared between its two ends as the mean age at such a
        failure asks for.
    share : ndarray, shape (n_steps, ...)
        Of `late` in that chance.
    """

    failed: Singles
    early: Singles
    late: Singles
    share: Singles


def steps_of(hazard: Singles) -> Steps:
    """Return how a hose fails over the steps.

    Parameters
    ----------
    hazard : ndarray, shape (n_steps + 1, ...)
        Cumulative hazard at the ends of the steps, 0 at the first.

    Returns
    -------
    Steps

    Notes
    -----
    Within a step the hazard is taken as constant, which places the failures right both where
    they are rare and where a hose cannot outlive the step.
    """
    alive = np.exp(-hazard)
    late = alive[:-1] - alive[1:]
    share = late_share(hazard[1:] - hazard[:-1])
    early = late.copy()
    late *= share
    early -= late
    return Steps(np.float32(1.0) - alive[1:], early, late, share)


def part_of(law: Steps, share: Singles) -> Steps:
    """Return only those ends that count, of hoses that can end in several ways.

    Parameters
    ----------
    law : Steps
        Every end.
    share : ndarray, shape (n_steps, ...)
        Of the ends in each step, those that count.

    Returns
    -------
    Steps
    """
    early, late = law.early * share, law.late * share
    failed = early + late
    for i in range(1, failed.shape[0]):  # numpy's own running sum walks across the memory
        failed[i] += failed[i - 1]
    return Steps(failed, early, late, law.share)


def late_share(hazard: Singles) -> Singles:
    """Return how far through a step, on average, those fail that fail within it.

    Parameters
    ----------
    hazard : ndarray, any shape
        Of each step, >= 0.

    Returns
    -------
    ndarray, the same shape
        ``1 / h - 1 / (exp(h) - 1)``, to single precision.

    Notes
    -----
    That is ``(1 - L(h / 2)) / 2`` with L the Langevin function; where h is small its series,
    whose terms are Bernoulli's numbers.

    Examples
    --------
    >>> [round(float(share), 5) for share in late_share(np.array([0.0, 1.0, 50.0], np.float32))]
    [0.5, 0.41802, 0.02]
    """
    square = hazard * hazard
    share = square * np.float32(-1.0 / 30240.0)
    share += np.float32(1.0 / 720.0)
    share *= square
    share += np.float32(-1.0 / 12.0)
    share *= hazard
    share += np.float32(0.5)
    if hazard.max(initial=0.0) > SERIES_UP_TO:
        great = hazard > SERIES_UP_TO
        h = hazard[great]
        share[great] = np.float32(1.0) / h - np.float32(1.0) / np.expm1(h)
    return share


@dataclass(frozen=True)
class Course:
    """The ends that count at some places, and where the pairs of them come from.

    Attributes
    ----------
    expected : ndarray, shape (n_months, n, n_draws)
        By the end of each month.
    kernel, late, renewals : ndarray, shape (n_steps, n, n_draws)
        See `pairs_within`.
    per_month : int
        Steps a month.
    """

    expected: Singles
    kernel: Singles
    late: Singles
    renewals: Singles
    per_month: int

    @classmethod
    def of(cls, present: Steps, counted: Steps, new: Steps, counted_new: Steps,
           per_month: int) -> Course:
        """Work it out from every end of the present hose and of a new one, and those that count."""
        renewals = renewal_function(new, counted_new)
        expected = expected_failures(present, renewals, counted)
        early = np.diff(expected, axis=0, prepend=np.float32(0.0))
        late = early * present.share
        early -= late
        return cls(expected[per_month - 1::per_month], kernel_of(early, late), late, renewals,
                   per_month)

    def mean(self) -> Singles:
        """Return the ends expected by each month, shape (n, n_draws, 12)."""
        return np.moveaxis(self.expected, 0, -1)

    def variance(self) -> Singles:
        """Return the variance of their number by each month."""
        ends = np.arange(self.per_month, self.late.shape[0] + 1, self.per_month)
        return np.moveaxis(
            _variance(self.expected, pairs(self.kernel, self.renewals, ends)), 0, -1)

    def month_variance(self) -> Singles:
        """Return the variance of their number within each single month."""
        single = np.diff(self.expected, axis=0, prepend=np.float32(0.0))
        found = pairs_within(self.kernel, self.late, self.renewals, self.per_month)
        return np.moveaxis(_variance(single, found), 0, -1)


def renewal_function(law: Steps, counted: Steps | None = None) -> Singles:
    """Return the expected ends that count by the end of each step, the first hose being new.

    Parameters
    ----------
    law : Steps
        Every end: a new hose follows each.
    counted : Steps, optional
        The ends that count; all of them when left out.

    Returns
    -------
    ndarray, shape (n_steps, ...)
    """
    kernel = kernel_of(law.early, law.late)
    own = np.float32(1.0) / (np.float32(1.0) - kernel[0])
    renewals = (counted or law).failed.copy()
    for i in range(renewals.shape[0]):
        renewals[i] *= own
        renewals[i + 1:] += kernel[1:renewals.shape[0] - i] * renewals[i]
    return renewals


def expected_failures(
    present: Steps, renewals: Singles, counted: Steps | None = None
) -> Singles:
    """Return the expected ends that count, of the present hose and its successors.

    Parameters
    ----------
    present : Steps
        Every end of the present hose.
    renewals : ndarray, shape (n_steps, ...)
        Of the successors, from `renewal_function`.
    counted : Steps, optional
        The ends of the present hose that count; all of them when left out.

    Returns
    -------
    ndarray, shape (n_steps, ...)
    """
    kernel = kernel_of(present.early, present.late)
    failed = (counted or present).failed
    expected = np.empty_like(failed)
    for i in range(renewals.shape[0]):
        expected[i] = failed[i] + _dot(kernel[: i + 1], renewals[i::-1])
    return expected


def pairs(kernel: Singles, renewals: Singles, ends: NDArray[np.int64]) -> Singles:
    """Return the second factorial moment of the failures up to some of the steps.

    Parameters
    ----------
    kernel : ndarray, shape (n_steps, ...)
        Failures expected, by the beginning of the step that they are counted at; from `kernel_of`.
    renewals : ndarray, shape (n_steps, ...)
    ends : ndarray of int, shape (n_ends,)
        Numbers of steps.

    Returns
    -------
    ndarray, shape (n_ends, ...)

    Notes
    -----
    Each failure is followed by the renewals in the time left: twice the integral of their
    expected number over the expected failures counts every ordered pair.
    """
    found = np.empty((ends.size, *kernel.shape[1:]), kernel.dtype)
    for at, end in enumerate(ends):
        found[at] = _dot(kernel[:end], renewals[end - 1 :: -1])
    found *= np.float32(2.0)
    return found


def pairs_within(kernel: Singles, late: Singles, renewals: Singles, length: int) -> Singles:
    """Return the same of the failures within each of the runs of so many steps.

    Parameters
    ----------
    kernel, renewals
        As of `pairs`.
    late : ndarray, shape (n_steps, ...)
        The part of each step's failures that belongs to its end.
    length : int
        Steps a run; ``n_steps`` is a multiple of it.

    Returns
    -------
    ndarray, shape (n_steps / length, ...)
    """
    runs = kernel.reshape(-1, length, *kernel.shape[1:])
    found = np.asarray(np.einsum("rk...,k...->r...", runs, renewals[length - 1 :: -1]))
    # failures at the end of the step before a run are none of its own
    found[1:] -= late[length - 1 : -1 : length] * renewals[length - 1]
    found *= np.float32(2.0)
    return found


def kernel_of(early: Singles, late: Singles) -> Singles:
    """Return the weight of the renewals in the time left, by whole steps gone."""
    kernel = early.copy()
    kernel[1:] += late[:-1]
    return kernel


def _dot(weight: Singles, values: Singles) -> Singles:
    """Return the sum over steps of weight times value, as far as both go."""
    n = min(weight.shape[0], values.shape[0])
    return np.asarray(np.einsum("k...,k...->...", weight[:n], values[:n]))


def _variance(mean: Singles, pair_moment: Singles) -> Singles:
    """Return the variance of counts, never below what a count of that mean can have."""
    whole = np.floor(mean) if mean.max(initial=0.0) >= 1.0 else np.float32(0.0)
    least = mean - whole
    least *= whole + np.float32(1.0) - mean
    found = pair_moment - mean * mean
    found += mean
    return np.asarray(np.maximum(found, least, out=found))
