"""How many hoses a place will go through: the present hose from its age on, then its successors.

Exact in each draw of the law and in each place's own rate: nothing is averaged before the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

DAYS_A_MONTH = 365.25 / 12.0
N_MONTHS = 12
CHANCE_DAYS = 90.0

STEPS_A_MONTH = (2, 4, 8, 16)
"""Steps of the renewal equation; the finest that a cell's shortest lives ask for is taken."""

FINE_ENOUGH = 0.10
"""A step may be at most this share of the age by which a tenth of the draws see 30 % failed."""

BLOCK = 48
"""Places worked on at once: large enough for array speed, small enough for the cache."""

HAZARD_CAP = 80.0
"""exp(-80) is nothing; capping keeps single precision from overflowing."""


@dataclass(frozen=True)
class CellLaw:
    """Joint draws of the competing Weibull laws of one cell.

    Attributes
    ----------
    shape, log_life : ndarray, shape (n_draws, n_mechanisms), log days
    """

    shape: Singles
    log_life: Singles

    def cumulative_hazard(self, age: Floats) -> Singles:
        """Return the cumulative hazard of all mechanisms at ages.

        Parameters
        ----------
        age : ndarray, any shape, days
            Must be >= 0.

        Returns
        -------
        ndarray, shape (n_draws, *age.shape)
        """
        log_age = np.log(np.maximum(age, 1e-6)).astype(np.float32)
        wide = (slice(None), *(None,) * age.ndim)
        total = np.zeros((self.shape.shape[0], *age.shape), np.float32)
        for mechanism in range(self.shape.shape[1]):
            power = self.shape[:, mechanism][wide] * (log_age - self.log_life[:, mechanism][wide])
            total += np.exp(np.minimum(power, np.float32(HAZARD_CAP)))
        return total


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
    """

    places: Ints
    expected: Singles
    variance: Singles
    first: Singles
    chance_90_days: Singles
    chance_90_days_new: Singles


def forecast_places(
    law: CellLaw, places: Ints, age: Floats, rate: Singles
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

    Yields
    ------
    PlaceForecast

    Notes
    -----
    E(h) = Q(h) + sum of f_k M(h - s_k): the present hose fails in step k with chance f_k, from
    then on its successors follow the renewal function M of the same law, M(h) = F(h) +
    integral of M(h - s) dF(s), both on a grid by the trapezoidal rule. The variance follows from
    the second factorial moment, 2 integral of M(h - s) dE(s).

    References
    ----------
    Tijms, H. C. (2003), A First Course in Stochastic Models, Wiley, section 8.1 (renewal
    equation; its Table 8.1.1 is a test of this function).
    """
    per_month = _steps_a_month(law, rate)
    n_steps = per_month * N_MONTHS
    step = DAYS_A_MONTH / per_month
    ahead = np.arange(n_steps + 1) * step
    looked_at = np.r_[ahead, CHANCE_DAYS]
    new = law.cumulative_hazard(looked_at)
    new[:, 0] = 0.0
    monthly = np.arange(per_month, n_steps + 1, per_month)
    for at in range(0, places.size, BLOCK):
        mine = slice(at, at + BLOCK)
        z = rate[mine]
        passed = law.cumulative_hazard(age[mine, None] + looked_at)
        passed = np.moveaxis(passed - passed[..., :1], 0, 1)
        passed[age[mine] <= 0.0] = new  # a new hose has no hazard behind it
        alive = np.exp(-np.minimum(z[:, :, None] * passed, HAZARD_CAP))
        failed_new = 1.0 - np.exp(-np.minimum(z[:, :, None] * new, HAZARD_CAP))
        renewals = _renewal_function(failed_new[:, :, :-1])
        yield PlaceForecast(
            places[mine],
            *_moments(alive[:, :, :-1], renewals, monthly),
            1.0 - alive[:, :, monthly],
            1.0 - alive[:, :, -1],
            failed_new[:, :, -1],
        )


def _steps_a_month(law: CellLaw, rate: Singles) -> int:
    """Choose the step from the shortest lives that the draws and the rates allow."""
    worst = float(np.quantile(rate, 0.95)) if rate.size else 1.0
    grid = np.geomspace(1.0, 20_000.0, 120)
    hazard = np.quantile(law.cumulative_hazard(grid), 0.9, axis=0) * max(worst, 1e-6)
    early = grid[min(int(np.searchsorted(hazard, 0.357)), grid.size - 1)]  # F = 0.3
    for count in STEPS_A_MONTH:
        if DAYS_A_MONTH / count <= FINE_ENOUGH * early:
            return count
    return STEPS_A_MONTH[-1]


def _renewal_function(failed: Singles) -> Singles:
    """Return the expected renewals by each step for a law known at the steps.

    Parameters
    ----------
    failed : ndarray, shape (n, n_draws, n_steps + 1)
        Distribution function of a new hose's life.

    Returns
    -------
    ndarray of the same shape
    """
    gain = np.diff(failed, axis=-1)
    n_steps = gain.shape[-1]
    # Steps first: each step then works on contiguous memory.
    gain = np.ascontiguousarray(np.moveaxis(gain, -1, 0))
    target = np.moveaxis(failed, -1, 0)
    renewals = np.zeros((n_steps + 1, *failed.shape[:2]), np.float32)
    middle = np.zeros((n_steps, *failed.shape[:2]), np.float32)  # M between two steps
    own = 1.0 - 0.5 * gain[0]
    for i in range(1, n_steps + 1):
        total = target[i] + 0.5 * gain[0] * renewals[i - 1]
        if i > 1:
            total = total + np.einsum("knd,knd->nd", gain[1:i], middle[i - 2 :: -1][: i - 1])
        renewals[i] = total / own
        middle[i - 1] = 0.5 * (renewals[i] + renewals[i - 1])
    return np.moveaxis(renewals, 0, -1)


def _moments(alive: Singles, renewals: Singles, monthly: Ints) -> tuple[Singles, Singles]:
    """Return mean and variance of the failures of the present hose and its successors."""
    middle = 0.5 * (renewals[..., 1:] + renewals[..., :-1])
    middle = np.ascontiguousarray(np.moveaxis(middle, -1, 0))
    fails = np.ascontiguousarray(np.moveaxis(alive[..., :-1] - alive[..., 1:], -1, 0))
    failed = 1.0 - np.moveaxis(alive, -1, 0)
    expected = np.zeros((middle.shape[0] + 1, *alive.shape[:2]), np.float32)
    for i in range(1, expected.shape[0]):
        expected[i] = failed[i] + _convolved(fails, middle, i)
    gain = np.diff(expected, axis=0)
    mean = expected[monthly]
    pairs = np.stack([2.0 * _convolved(gain, middle, i) for i in monthly])
    # The grid may leave the variance a hair below what a count of this mean can have.
    whole = np.floor(mean)
    least = (mean - whole) * (whole + 1.0 - mean)
    variance = np.maximum(mean + pairs - mean**2, least)
    return np.moveaxis(mean, 0, -1), np.moveaxis(variance, 0, -1)


def _convolved(gain: Singles, middle: Singles, i: int) -> Singles:
    """Return the sum over steps k <= i of gain in step k times renewals in the time left."""
    return np.asarray(np.einsum("knd,knd->nd", gain[:i], middle[i - 1 :: -1][:i]))
