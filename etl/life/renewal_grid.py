"""Renewals on a grid of steps: means and pairs of failures of hoses that replace one another.

Arrays have the steps first, so that each step works on contiguous memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]

SMALL = np.float32(0.02)
"""Hazard below which the place of a failure within a step is read from its series."""


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
    """

    failed: Singles
    early: Singles
    late: Singles


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
    gain = alive[:-1] - alive[1:]
    return Steps(np.float32(1.0) - alive[1:], *shared(gain, np.diff(hazard, axis=0)))


def shared(gain: Singles, hazard: Singles) -> tuple[Singles, Singles]:
    """Share failures between the two ends of their steps.

    Parameters
    ----------
    gain : ndarray, shape (n_steps, ...)
        Failures expected, or their chance, in each step.
    hazard : ndarray, shape (n_steps, ...)
        Hazard of each step.

    Returns
    -------
    early, late : ndarray, shape (n_steps, ...)
        Parts of `gain` that belong to the beginning and to the end of each step.
    """
    safe = np.maximum(hazard, SMALL)
    share = np.where(
        hazard > SMALL, 1.0 / safe - 1.0 / np.expm1(safe), 0.5 - hazard / np.float32(12.0)
    )
    late = gain * share
    return gain - late, late


def renewal_function(law: Steps) -> Singles:
    """Return the expected renewals by the end of each step, the first hose being new.

    Parameters
    ----------
    law : Steps

    Returns
    -------
    ndarray, shape (n_steps, ...)
    """
    kernel = _kernel(law.early, law.late)
    renewals = np.empty_like(law.failed)
    own = np.float32(1.0) - kernel[0]
    for i in range(renewals.shape[0]):
        total = law.failed[i]
        if i:
            total = total + _dot(kernel[1 : i + 1], renewals[i - 1 :: -1])
        renewals[i] = total / own
    return renewals


def expected_failures(present: Steps, renewals: Singles) -> Singles:
    """Return the expected failures of the present hose and its successors by each step's end.

    Parameters
    ----------
    present : Steps
    renewals : ndarray, shape (n_steps, ...)
        Of the successors, from `renewal_function`.

    Returns
    -------
    ndarray, shape (n_steps, ...)
    """
    kernel = _kernel(present.early, present.late)
    expected = np.empty_like(renewals)
    for i in range(renewals.shape[0]):
        expected[i] = present.failed[i] + _dot(kernel[: i + 1], renewals[i::-1])
    return expected


def pairs(early: Singles, late: Singles, renewals: Singles, first: int, last: int) -> Singles:
    """Return the second factorial moment of the failures within some steps.

    Parameters
    ----------
    early, late : ndarray, shape (n_steps, ...)
        Failures expected in each step, from `shared`.
    renewals : ndarray, shape (n_steps, ...)
    first, last : int
        Steps first .. last - 1.

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    Each failure is followed by the renewals in the time left: twice the integral of their
    expected number over the expected failures counts every ordered pair.
    """
    kernel = _kernel(early[first:last], late[first:last])
    return np.float32(2.0) * _dot(kernel, renewals[last - first - 1 :: -1])


def _kernel(early: Singles, late: Singles) -> Singles:
    """Return the weight of the renewals in the time left, by whole steps left."""
    kernel = early.copy()
    kernel[1:] += late[:-1]
    return kernel


def _dot(weight: Singles, values: Singles) -> Singles:
    """Return the sum over steps of weight times value, as far as both go."""
    n = min(weight.shape[0], values.shape[0])
    return np.asarray(np.einsum("k...,k...->...", weight[:n], values[:n]))
