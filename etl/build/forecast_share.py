"""Forecast of some of the places, added up by the fleet's parts: one share of the whole.

Shares hold whole kinds of hose, and are the same whoever works them out and beside what.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.forecast_sums import PartSums, ScopeSums, used_hoses
from etl.build.late_records import late_forecasts
from etl.build.planned_demand import PlannedDays, planned_demand
from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.build.track.laws import Present
from etl.life.pooling.pool import PooledDraws

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

LEAST_PLACES, MOST_SHARES = 4_000, 6
"""Of a share, and shares of a fleet: enough that two processes end close to one another, few
enough that the sums to join stay small beside the rest."""


@dataclass(frozen=True)
class SomePlaces:
    """Places of a share, all with a hose in service.

    Attributes
    ----------
    present : Present
    rate : ndarray, shape (n, n_draws)
    keys : dict of str to Series
        Name of the group of each place, by scope.
    part_number : Series
    price : ndarray, shape (n,)
    planned : PlannedDays
    """

    present: Present
    rate: Singles
    keys: dict[str, pd.Series[str]]
    part_number: pd.Series[str]
    price: Floats
    planned: PlannedDays


@dataclass(frozen=True)
class ForecastShare:
    """Forecast of some places; see `etl.build.forecast.FleetForecast`.

    Attributes
    ----------
    year : ndarray, shape (n, n_draws)
        Failures expected within twelve months.
    figures : ndarray, shape (7, n)
        Mean, lower and upper of ``year``, then of the chance that the present hose fails within
        90 days; the same chance of a new hose, its mean.
    missing : ndarray, shape (2, n_draws)
        Failures not on record yet: mean and variance of their number.
    scopes : ScopeSums
    parts, unplanned : PartSums
    """

    year: Singles
    figures: Floats
    missing: Floats
    scopes: ScopeSums
    parts: PartSums
    unplanned: PartSums


def shares_of_cells(cell: Ints) -> Iterator[Ints]:
    """Yield the places of each share, in order; those without a hose are in none.

    Parameters
    ----------
    cell : ndarray of int, shape (n_places,)
        Kind of the present hose, -1 where there is none.

    Examples
    --------
    >>> [share.tolist() for share in shares_of_cells(np.array([1, -1, 0]))]
    [[0, 2]]
    """
    count = np.bincount(cell[cell >= 0])
    enough = max(LEAST_PLACES, count.sum() / MOST_SHARES)
    first = 0
    for number in range(count.size):
        if count[first:number + 1].sum() >= enough or number == count.size - 1:
            yield np.flatnonzero((cell >= first) & (cell <= number))
            first = number + 1


def forecast_share(
    draws: PooledDraws, strata: Strata, removals: Sequence[Removal], share: Floats,
    confidence: float, some: SomePlaces,
) -> ForecastShare:
    """Forecast the failures of some places, and the hoses used there.

    Parameters
    ----------
    draws : PooledDraws
    strata : Strata
    removals : sequence of Removal, one a cell
    share : ndarray, shape (k,)
        Of a month's failures on record 0, 1, ... months later.
    confidence : float
    some : SomePlaces

    Returns
    -------
    ForecastShare
    """
    n, n_draws = some.rate.shape
    scopes = ScopeSums(some.keys, n_draws)
    parts, unplanned = (PartSums(some.part_number, n_draws) for _ in range(2))
    year, chance = np.zeros((2, n, n_draws), np.float32)
    if_new, missing = np.full(n, np.nan), np.zeros((2, n_draws))
    for block, late in late_forecasts(
            draws, strata, some.present, some.rate, removals, share):
        missing += np.stack([late, late * (1.0 - late)]).sum(axis=1, dtype=np.float64)
        year[block.places] = block.expected[:, :, -1]
        chance[block.places] = block.chance_90_days
        if_new[block.places] = block.chance_90_days_new.mean(axis=1, dtype=np.float64)
        scopes.add(block, some.price)
        used = used_hoses(block)
        parts.add(block.places, used, without=some.planned.is_near)
        unplanned.add(block.places, used)
    for block in planned_demand(draws, strata, some.present, some.rate, some.planned,
                                removals, share):
        parts.add(block.places, used_hoses(block))
    tail = (1.0 - confidence) / 2.0
    figures = np.empty((7, n))
    for at, values in ((0, year), (3, chance)):
        figures[at] = values.mean(axis=1, dtype=np.float64)
        figures[at + 1:at + 3] = np.quantile(values, [tail, 1.0 - tail], axis=1)
    figures[6] = if_new
    return ForecastShare(year, figures, missing, scopes, parts, unplanned)
