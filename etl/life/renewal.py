"""How many hoses a place will go through: the present hose from its age on, then its successors.

Exact in each draw of the law and in each place's own rate: nothing is averaged before the end.
A hose that is taken out unfailed cannot fail any more: both ways to end compete.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import HAZARD_CAP, CellLaw
from etl.life.renewal_grid import (
    Steps,
    expected_failures,
    kernel_of,
    pairs,
    part_of,
    renewal_function,
    steps_of,
)

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

DAYS_A_MONTH = 365.25 / 12.0
N_MONTHS = 12
CHANCE_DAYS = 90.0

STEPS_A_MONTH = (1, 2, 4, 8, 16)
"""Steps of the renewal equation; the finest that a cell's shortest lives ask for is taken."""

FINE_ENOUGH = 0.10
"""A step may be at most this share of the age by which a tenth of the draws see 30 % failed."""

NOTHING = np.float32(1e-30)
"""Hazard of a step below which nothing ends in it: its ends need no share."""

WHOLE_MONTHS_ENOUGH = 0.001
"""Steps of a whole month are taken where half of them would move a year's renewals by less."""

BLOCK = 48
"""Places worked on at once: large enough for array speed, small enough for the cache."""

@dataclass(frozen=True)
class PlaceForecast:
    """Forecast of a block of places of one cell.

    Attributes
    ----------
    places : ndarray of int, shape (n,)
        Positions in the input.
    expected : ndarray, shape (n, n_draws, 12)
        Failures expected within 1, 2, ... 12 months, successors included.
    first : ndarray, shape (n, n_draws, 12)
        Chance that the present hose fails within 1, 2, ... 12 months.
    variance : ndarray, shape (n, n_draws, 12)
        Variance of those counts, given the draw.
    chance_90_days : ndarray, shape (n, n_draws)
        Chance that the present hose fails within 90 days.
    chance_90_days_new : ndarray, shape (n, n_draws)
        The same for a new hose in its place.
    month_variance : ndarray, shape (n, n_draws, 12)
        Variance of the failures within each single month: not the difference of ``variance``,
        since a failure in one month makes one in the next less likely or more.
    changes, changes_variance : ndarray, shape (n, n_draws, 12)
        As ``expected`` and ``variance``, of hoses used: taken out unfailed as well.
    """

    places: Ints
    expected: Singles
    variance: Singles
    first: Singles
    chance_90_days: Singles
    chance_90_days_new: Singles
    month_variance: Singles
    changes: Singles
    changes_variance: Singles


def forecast_places(
    law: CellLaw, places: Ints, age: Floats, rate: Singles, *, least_steps: int = 1
) -> Iterator[PlaceForecast]:
    """Forecast the failures of the places of one cell, block by block.

    Parameters
    ----------
    law : CellLaw
    places : ndarray of int, shape (n,)
        Positions that label the results.
    age : ndarray, shape (n,), days
        Age of the hose now in service, >= 0.
    rate : ndarray, shape (n, n_draws)
        Multiplier of the hazard at each place: 1 = like its peers.
    least_steps : int
        Steps a month, at least: days on which something happens stand at the ends of steps.

    Yields
    ------
    PlaceForecast

    Notes
    -----
    E(h) = Q(h) + sum of f_k M(h - s_k): the present hose fails in step k with chance f_k, from
    then on its successors follow the renewal function M of the same law, M(h) = F(h) +
    integral of M(h - s) dF(s), both on a grid of steps (`etl.life.renewal_grid`). The variance
    follows from the second factorial moment, 2 integral of M(h - s) dE(s). Where hoses are taken
    out unfailed as well, a new hose follows either end, and Q and F are the cumulative incidence
    of failing: within a step both hazards keep their ratio.

    References
    ----------
    Tijms, H. C. (2003), A First Course in Stochastic Models, Wiley, section 8.1 (renewal
    equation; its Table 8.1.1 is a test of this function).
    """
    per_month = _steps_a_month(law, rate, least_steps)
    for at in range(0, places.size, BLOCK):
        mine = slice(at, at + BLOCK)
        yield _Hazards.of(law, age[mine], per_month).forecast(places[mine], rate[mine])


def forecast_grid(law: CellLaw, age: Floats, rate: Floats) -> Iterator[PlaceForecast]:
    """Forecast places of every age at every rate, with far less work than one by one.

    Parameters
    ----------
    law : CellLaw
    age : ndarray, shape (n,), days
    rate : ndarray, shape (n_rates,)

    Yields
    ------
    PlaceForecast
        Of all ages at one rate after the other, with the steps that it asks for.
    """
    kept: dict[int, _Hazards] = {}
    for z in rate:
        same = np.full((1, 1), z, np.float32)
        per_month = _steps_a_month(law, same)
        if per_month not in kept:
            kept[per_month] = _Hazards.of(law, age, per_month)
        yield kept[per_month].forecast(np.arange(age.size), same)


@dataclass(frozen=True)
class _Hazards:
    """Cumulative hazards from now on at the ends of the steps, and at `CHANCE_DAYS` as the last.

    Attributes
    ----------
    passed : ndarray, shape (n, n_draws, n_times)
        Of failing, of the hoses now in service, at a rate of 1.
    out : ndarray, shape (n, n_times)
        Of being taken out unfailed.
    new : ndarray, shape (n_draws, n_times)
    new_out : ndarray, shape (n_times,)
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
    def of(cls, law: CellLaw, age: Floats, per_month: int) -> _Hazards:
        """Work them out for places of these ages."""
        n_steps = per_month * N_MONTHS
        looked_at = np.r_[np.arange(n_steps + 1) * (DAYS_A_MONTH / per_month), CHANCE_DAYS]
        new, new_out = law.cumulative_hazard(looked_at), law.removal_hazard(looked_at)
        new[:, 0] = new_out[0] = 0.0
        passed = law.cumulative_hazard(age[:, None] + looked_at)
        passed = np.moveaxis(passed - passed[..., :1], 0, 1)
        passed[age <= 0.0] = new  # a new hose has no hazard behind it
        out = law.removal_hazard(age[:, None] + looked_at)
        out -= out[:, :1].copy()
        out[age <= 0.0] = new_out
        return cls(passed, out, new, new_out, per_month, law.removal is not None)

    def forecast(self, places: Ints, rate: Singles) -> PlaceForecast:
        """Forecast the places, at rates of shape (n, n_draws) or (1, 1)."""
        now = _Ends.of(rate, self.passed, self.out, is_removed=self.is_removed)
        # Successors of places of one rate are alike: once is enough.
        like = rate[:1] if (rate == rate[:1]).all() else rate
        fresh = _Ends.of(like, self.new, self.new_out, is_removed=self.is_removed)
        mean, variance, month_variance = _moments(
            now.every, now.failing, fresh.every, fresh.failing, self.per_month)
        changes, changes_variance = mean, variance
        if self.is_removed:
            changes, changes_variance, _ = _moments(
                now.every, now.every, fresh.every, fresh.every, self.per_month)
        months = np.arange(self.per_month, self.per_month * N_MONTHS + 1, self.per_month)
        return PlaceForecast(
            places, mean, variance, np.moveaxis(now.failing.failed[months - 1], 0, -1),
            now.soon, np.broadcast_to(fresh.soon, now.soon.shape), month_variance, changes,
            changes_variance)


@dataclass(frozen=True)
class _Ends:
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
    def of(cls, rate: Singles, fails: Singles, out: Singles, *, is_removed: bool) -> _Ends:
        """Put the hazards at the steps' ends, and at `CHANCE_DAYS` as the last, together."""
        failing = np.ascontiguousarray(
            np.moveaxis(np.minimum(rate[:, :, None] * fails, HAZARD_CAP), -1, 0))
        if not is_removed:
            every = steps_of(failing[:-1])
            return cls(every, every, -np.expm1(-failing[-1]))
        removing = np.moveaxis(np.minimum(out, HAZARD_CAP), -1, 0)[..., None]
        both = failing + (removing if out.ndim == 2 else removing[:, None])
        share = failing[1:] - failing[:-1]
        share[-1] = failing[-1]
        gained = both[1:] - both[:-1]
        gained[-1] = both[-1]
        share /= np.maximum(gained, NOTHING)
        every = steps_of(both[:-1])
        return cls(every, part_of(every, share[:-1]), -np.expm1(-both[-1]) * share[-1])


def _steps_a_month(law: CellLaw, rate: Singles, least: int = 1) -> int:
    """Choose the step from the shortest lives that the draws and the rates allow."""
    worst = float(np.quantile(rate, 0.95)) if rate.size else 1.0
    grid = np.geomspace(1.0, 20_000.0, 120)
    hazard = np.quantile(law.cumulative_hazard(grid), 0.9, axis=0) * max(worst, 1e-6)
    hazard += law.removal_hazard(grid)
    early = grid[min(int(np.searchsorted(hazard, 0.357)), grid.size - 1)]  # F = 0.3
    for count in STEPS_A_MONTH:
        if count >= least and DAYS_A_MONTH / count <= FINE_ENOUGH * early and (
                count > 1 or _halving_changes(law, worst) <= WHOLE_MONTHS_ENOUGH):
            return count
    return STEPS_A_MONTH[-1]


def _halving_changes(law: CellLaw, rate: float) -> float:
    """Return by what share half steps would move the renewals of new hoses, of whole months."""
    found = []
    for per_month in (1, 2):
        at = _Hazards.of(law, np.zeros(1), per_month)
        now = _Ends.of(np.full((1, 1), rate, np.float32), at.new, at.new_out,
                       is_removed=at.is_removed)
        renewals = renewal_function(now.every, now.failing)[per_month - 1::per_month]
        found.append(renewals.mean(axis=(1, 2)))
    return float(np.abs(found[0] / np.maximum(found[1], NOTHING) - 1.0).max())


def _moments(
    present: Steps, counted: Steps, new: Steps, counted_new: Steps, per_month: int
) -> tuple[Singles, Singles, Singles]:
    """Return mean, variance and variance of single months of the ends that count at some places.

    Parameters
    ----------
    present, new : Steps
        Every end of the present hose from its age on, and of a new one.
    counted, counted_new : Steps
        The ends that count.
    per_month : int

    Returns
    -------
    tuple of ndarray, each shape (n, n_draws, 12)
    """
    renewals = renewal_function(new, counted_new)
    expected = expected_failures(present, renewals, counted)
    early = np.diff(expected, axis=0, prepend=np.float32(0.0))
    late = early * present.share
    early -= late
    kernel = kernel_of(early, late)
    ends = np.arange(per_month, expected.shape[0] + 1, per_month)
    mean = expected[ends - 1]
    single = np.diff(mean, axis=0, prepend=np.float32(0.0))
    year = np.stack([pairs(kernel, late, renewals, 0, end) for end in ends])
    month = np.stack([pairs(kernel, late, renewals, end - per_month, end) for end in ends])
    return (np.moveaxis(mean, 0, -1), np.moveaxis(_variance(mean, year), 0, -1),
            np.moveaxis(_variance(single, month), 0, -1))


def _variance(mean: Singles, pair_moment: Singles) -> Singles:
    """Return the variance of counts, never below what a count of that mean can have."""
    whole = np.floor(mean)
    least = (mean - whole) * (whole + np.float32(1.0) - mean)
    return np.asarray(np.maximum(mean + pair_moment - mean**2, least))
