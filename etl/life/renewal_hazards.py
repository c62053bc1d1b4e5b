"""How the hoses of a cell end over the steps of a forecast: those in service, and new ones."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import HAZARD_CAP, CellLaw
from etl.life.renewal_grid import Steps, part_of, renewal_function, steps_of

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

DAYS_A_MONTH = 365.25 / 12.0
N_MONTHS = 12
CHANCE_DAYS = 90.0

STEPS_A_MONTH = (1, 2, 4, 8, 16)
"""Steps of the renewal equation; the finest that a cell's shortest lives ask for is taken."""

FINE_ENOUGH, FEW_FAILED = 0.10, 0.357
"""A step may be at most this share of the age by which a tenth of the draws see so great a hazard:
30 % failed."""

NOTHING = np.float32(1e-30)
"""Hazard of a step below which nothing ends in it: its ends need no share."""

WHOLE_MONTHS_ENOUGH = 0.001
"""Steps of a whole month are taken where half of them would move a year's renewals by less."""

OF_DRAWS = 4
"""One of so many draws is asked for that, where their number is a multiple of it."""

WHOLE_OF_HALVES = [*range(0, 2 * N_MONTHS + 1, 2), -1]
"""Ends of whole months among those of half ones, and the day that stands last."""


@dataclass(frozen=True)
class Hazards:
    """Cumulative hazards from now on at the ends of the steps, and at `CHANCE_DAYS` as the last.

    Attributes
    ----------
    passed : ndarray, shape (n_times, n, n_draws)
        Of failing, of the hoses now in service, at a rate of 1.
    out : ndarray, shape (n_times, n, 1)
        Of being taken out unfailed.
    new : ndarray, shape (n_times, 1, n_draws)
    new_out : ndarray, shape (n_times, 1, 1)
    per_month : int
    is_removed : bool
    """

    passed: Singles
    out: Singles
    new: Singles
    new_out: Singles
    per_month: int
    is_removed: bool

    @classmethod
    def of(cls, law: CellLaw, age: Floats, per_month: int) -> Hazards:
        """Work them out for places of these ages."""
        looked_at = _looked_at(per_month)
        new, new_out = _of_new(law, per_month)
        ages = looked_at[:, None] + age
        passed, out = law.cumulative_hazard(ages), law.removal_hazard(ages)
        is_new = age <= 0.0  # no hazard behind it
        for hazard, of_new in ((passed, new), (out, new_out)):
            hazard -= hazard[0].copy()
            if is_new.any():
                hazard[:, is_new] = of_new
        return cls(passed, out, new, new_out, per_month, law.removal is not None)

    def ends(self, rate: Singles) -> tuple[Ends, Ends]:
        """Return how the present hoses end, and new ones."""
        # Successors of places of one rate are alike: once is enough.
        like = rate[:1] if (rate == rate[:1]).all() else rate
        return (Ends.of(rate, self.passed, self.out, is_removed=self.is_removed),
                Ends.of(like, self.new, self.new_out, is_removed=self.is_removed))


@lru_cache
def _looked_at(per_month: int) -> Floats:
    """Return the ends of the steps, and `CHANCE_DAYS`, in days from now."""
    ends = np.arange(per_month * N_MONTHS + 1) * (DAYS_A_MONTH / per_month)
    return np.append(ends, CHANCE_DAYS)


def _of_new(law: CellLaw, per_month: int) -> tuple[Singles, Singles]:
    """Return the hazards of a new hose of failing and of being taken out, at those days."""
    at = _looked_at(per_month)
    fails, out = law.cumulative_hazard(at), law.removal_hazard(at)
    fails[0] = out[0] = 0.0
    return fails[:, None], out[:, None]


@dataclass(frozen=True)
class Ends:
    """How hoses end over the steps of the forecast: every end, failures alone.

    Attributes
    ----------
    every, failing : Steps
    soon : ndarray, shape (n, n_draws)
        Chance of failing within `CHANCE_DAYS`.
    """

    every: Steps
    failing: Steps
    soon: Singles

    @classmethod
    def of(cls, rate: Singles, fails: Singles, out: Singles, *, is_removed: bool) -> Ends:
        """Put the hazards at the steps' ends, and at `CHANCE_DAYS` as the last, together."""
        failing = np.minimum(rate * fails, HAZARD_CAP)
        if not is_removed:
            every = steps_of(failing[:-1])
            return cls(every, every, -np.expm1(-failing[-1]))
        both = failing + np.minimum(out, HAZARD_CAP)
        share = failing[1:] - failing[:-1]
        share[-1] = failing[-1]
        gained = both[1:] - both[:-1]
        gained[-1] = both[-1]
        share /= np.maximum(gained, NOTHING)
        every = steps_of(both[:-1])
        return cls(every, part_of(every, share[:-1]), -np.expm1(-both[-1]) * share[-1])


def steps_a_month(law: CellLaw, rate: Singles, least: int = 1) -> int:
    """Choose the step from the shortest lives that the draws and the rates allow.

    Parameters
    ----------
    law : CellLaw
    rate : ndarray, any shape
        Multipliers of the hazard.
    least : int
    """
    worst = float(np.quantile(rate, 0.95)) if rate.size > 1 else float(rate.sum())
    return int(steps_of_each(law, 1, max(worst, 1e-6), least)[0])


def steps_of_each(law: CellLaw, n_laws: int, rate: float = 1.0, least: int = 1) -> Ints:
    """Choose the steps a month of laws that stand side by side, shape (n_laws,).

    Parameters
    ----------
    law : CellLaw
        Of ``n_laws`` times as many draws as each has; see `etl.life.joined_laws`.
    n_laws : int
    rate : float
    least : int
    """
    counts = np.array(STEPS_A_MONTH)
    age = DAYS_A_MONTH / (FINE_ENOUGH * counts)
    hazard = law.cumulative_hazard(age).reshape(age.size, n_laws, -1)
    high = hazard.shape[2] * 9 // 10  # a tenth of the draws see more
    hazard = np.partition(hazard, high, axis=2)[..., high] * rate
    if law.removal is not None:
        hazard += law.removal_hazard(age).reshape(age.size, n_laws, -1)[..., 0]
    is_enough = (hazard <= FEW_FAILED) & (counts >= least)[:, None]
    whole = counts == 1
    if is_enough[whole].any():
        is_enough[whole] &= _halving_changes(law, rate, n_laws) <= WHOLE_MONTHS_ENOUGH
    return np.asarray(counts[np.where(is_enough.any(axis=0), is_enough.argmax(axis=0), -1)])


def _halving_changes(law: CellLaw, rate: float, n_laws: int) -> Singles:
    """Return by what share half steps would move the renewals of new hoses, of whole months."""
    n_draws = law.shape.shape[0] // n_laws
    new, out = _of_new(law.thinned(1 if n_draws % OF_DRAWS else OF_DRAWS), 2)
    z, found = np.full((1, 1), rate, np.float32), []
    for per_month, some in ((1, WHOLE_OF_HALVES), (2, ...)):
        now = Ends.of(z, new[some], out[some], is_removed=law.removal is not None)
        renewals = renewal_function(now.every, now.failing)[per_month - 1::per_month]
        found.append(renewals.reshape(N_MONTHS, n_laws, -1).mean(axis=2))
    return np.asarray(np.abs(found[0] / np.maximum(found[1], NOTHING) - 1.0).max(axis=0))
