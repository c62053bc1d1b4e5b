"""How many hoses a place will go through: the present hose from its age on, then its successors.

Exact in each draw of the law and in each place's own rate: nothing is averaged before the end.
A hose that is taken out unfailed cannot fail any more: both ways to end compete.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import CellLaw
from etl.life.renewal_grid import Course
from etl.life.renewal_hazards import DAYS_A_MONTH as DAYS_A_MONTH
from etl.life.renewal_hazards import N_MONTHS as N_MONTHS
from etl.life.renewal_hazards import Hazards, steps_a_month

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

BLOCK = 48
"""Places worked on at once: large enough for array speed, small enough for the cache."""


@dataclass(frozen=True)
class MonthForecast:
    """Failures of places of one cell by month.

    Attributes
    ----------
    expected : ndarray, shape (n, n_draws, 12)
        Failures expected within 1, 2, ... 12 months, successors included.
    month_variance : ndarray, shape (n, n_draws, 12)
        Variance of the failures within each single month, given the draw.
    chance_90_days : ndarray, shape (n, n_draws)
        Chance that the present hose fails within 90 days.
    """

    expected: Singles
    month_variance: Singles
    chance_90_days: Singles


@dataclass(frozen=True)
class PlaceForecast:
    """Forecast of a block of places of one cell.

    Attributes
    ----------
    places : ndarray of int, shape (n,)
        Positions in the input.
    expected : ndarray, shape (n, n_draws, 12)
        Failures expected within 1, 2, ... 12 months, successors included.
    variance : ndarray, shape (n, n_draws, 12)
        Variance of those counts, given the draw.
    chance_90_days : ndarray, shape (n, n_draws)
        Chance that the present hose fails within 90 days.
    chance_12_months : ndarray, shape (n, n_draws)
        The same within the year.
    chance_90_days_new : ndarray, shape (n, n_draws)
        Chance that a new hose in its place fails within 90 days.
    month_variance : ndarray, shape (n, n_draws, 12)
        Variance of the failures within each single month: not the difference of ``variance``,
        since a failure in one month makes one in the next less likely or more.
    changes, changes_variance : ndarray, shape (n, n_draws, 12)
        As ``expected`` and ``variance``, of hoses used: taken out unfailed as well.
    """

    places: Ints
    expected: Singles
    variance: Singles
    chance_90_days: Singles
    chance_12_months: Singles
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
    per_month = steps_a_month(law, rate, least_steps)
    for at in range(0, places.size, BLOCK):
        mine = slice(at, at + BLOCK)
        yield _forecast(Hazards.of(law, age[mine], per_month), places[mine], rate[mine])


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
    for hazards, same in _at_rates(law, age, rate):
        yield _forecast(hazards, np.arange(age.size), same)


def forecast_grid_months(law: CellLaw, age: Floats, rate: Floats) -> Iterator[MonthForecast]:
    """Forecast them by month alone; as `forecast_grid`."""
    for hazards, same in _at_rates(law, age, rate):
        yield _by_month(hazards, same)


def forecast_months(law: CellLaw, age: Floats, per_month: int) -> MonthForecast:
    """Forecast by month places that are like their peers, in steps of so many a month."""
    return _by_month(Hazards.of(law, age, per_month), np.ones((1, 1), np.float32))


def _at_rates(law: CellLaw, age: Floats, rate: Floats) -> Iterator[tuple[Hazards, Singles]]:
    """Yield hazards in the steps that each rate asks for, and the rate."""
    kept: dict[int, Hazards] = {}
    for z in rate:
        same = np.full((1, 1), z, np.float32)
        per_month = steps_a_month(law, same)
        if per_month not in kept:
            kept[per_month] = Hazards.of(law, age, per_month)
        yield kept[per_month], same


def _forecast(hazards: Hazards, places: Ints, rate: Singles) -> PlaceForecast:
    """Forecast the places, at rates of shape (n, n_draws) or (1, 1)."""
    now, fresh = hazards.ends(rate)
    failures = Course.of(now.every, now.failing, fresh.every, fresh.failing, hazards.per_month)
    mean, variance = failures.mean(), failures.variance()
    changes, changes_variance = mean, variance
    if hazards.is_removed:
        used = Course.of(now.every, now.every, fresh.every, fresh.every, hazards.per_month)
        changes, changes_variance = used.mean(), used.variance()
    return PlaceForecast(
        places, mean, variance, now.soon, now.failing.failed[-1],
        np.broadcast_to(fresh.soon, now.soon.shape), failures.month_variance(), changes,
        changes_variance)


def _by_month(hazards: Hazards, rate: Singles) -> MonthForecast:
    """Forecast failures alone, by month."""
    now, fresh = hazards.ends(rate)
    failures = Course.of(now.every, now.failing, fresh.every, fresh.failing, hazards.per_month)
    return MonthForecast(failures.mean(), failures.month_variance(), now.soon)
