"""Simulated trials: renewals of both arms, and what a look at them counts and expects."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_LIVES = 40
"""Lives of one place in a trial; a place that goes through more is not tried, it is repaired."""


@dataclass(frozen=True)
class ArmLaw:
    """Competing Weibull laws of one arm in each simulated trial.

    Attributes
    ----------
    shape, log_life : ndarray, shape (n_trials, n_mechanisms), log days
    """

    shape: Floats
    log_life: Floats

    def lengthened(self, log_ratio: Floats) -> ArmLaw:
        """Return the law of an arm that lasts longer by a factor, shape (n_trials,)."""
        return ArmLaw(self.shape, self.log_life + log_ratio[:, None])


@dataclass(frozen=True)
class FixedLaw:
    """The law fixed before the start, the same for both arms.

    Attributes
    ----------
    shape : float
    life_days : float
        Characteristic life.
    """

    shape: float
    life_days: float

    def chance_by(self, age_days: float, rate: float = 1.0) -> float:
        """Return the chance that a hose has failed by an age."""
        return float(-np.expm1(-rate * (age_days / self.life_days) ** self.shape))


def failure_days(
    law: ArmLaw, rate: Floats, days: float, rng: np.random.Generator
) -> Floats:
    """Simulate the failures of places at which each failed hose is replaced by its like.

    Parameters
    ----------
    law : ArmLaw
    rate : ndarray, shape (n_trials, n_places)
        Multiplier of the hazard at each place.
    days : float
        Length of the trial.
    rng : Generator

    Returns
    -------
    ndarray, shape (n_trials, n_places, n_lives)
        Days after the start, rising; infinite beyond the end.
    """
    now = np.zeros(rate.shape)
    found: list[Floats] = []
    log_rate = np.log(rate)[..., None]
    shape, log_life = law.shape[:, None, :], law.log_life[:, None, :]
    while len(found) < MOST_LIVES and (now < days).any():
        drawn = np.log(rng.standard_exponential((*rate.shape, law.shape.shape[1])))
        now = now + np.exp((log_life + (drawn - log_rate) / shape).min(axis=-1))
        found.append(np.where(now <= days, now, np.inf))
    return np.stack(found, axis=-1)


def counted(failed_on: Floats, looks: Floats) -> Floats:
    """Count the failures by each look.

    Parameters
    ----------
    failed_on : ndarray, shape (..., n_lives), days after the start
    looks : ndarray, shape (n_looks,), days after the start

    Returns
    -------
    ndarray, shape (..., n_looks)
    """
    total = np.zeros((*failed_on.shape[:-1], looks.size))
    for life in range(failed_on.shape[-1]):
        total += failed_on[..., life, None] <= looks
    return total


def expected(failed_on: Floats, looks: Floats, law: FixedLaw) -> Floats:
    """Return the failures expected by each look of hoses replaced when these failed.

    Parameters
    ----------
    failed_on : ndarray, shape (..., n_lives), days after the start
    looks : ndarray, shape (n_looks,), days after the start
    law : FixedLaw

    Returns
    -------
    ndarray, shape (..., n_looks)
        Cumulative hazard of every stay so far; times the place's rate, the failures expected.
    """
    total = np.zeros((*failed_on.shape[:-1], looks.size))
    begin = np.zeros((*failed_on.shape[:-1], 1))
    for life in range(failed_on.shape[-1] + 1):
        last = life == failed_on.shape[-1]
        end = np.full_like(begin, np.inf) if last else failed_on[..., life, None]
        stayed = np.minimum(end, looks) - np.minimum(begin, looks)
        total += (stayed / law.life_days) ** law.shape
        begin = end
        if not np.isfinite(begin).any():
            break
    return total
