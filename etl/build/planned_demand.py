"""Hoses that failures and planned changes use together, place by place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.build.track.laws import Present, cell_law
from etl.life.cell_law import CellLaw
from etl.life.late_forecasts import mixed, together
from etl.life.pooling.pool import PooledDraws
from etl.life.renewal import BLOCK, DAYS_A_MONTH, N_MONTHS, PlaceForecast, forecast_places
from etl.life.reporting_delay import IN_TIME, late_chances, successor_age

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

HORIZON_DAYS = N_MONTHS * DAYS_A_MONTH
CERTAIN = np.float32(1e12)
"""Cumulative hazard of a hose that has been taken out, whatever the rate of its place."""
STEPS_OF_DAYS = 2
"""Steps a month, at least, where planned days have to stand at the end of one."""


@dataclass(frozen=True)
class PlannedDays:
    """When each hose is to be changed if it has not failed by then.

    Attributes
    ----------
    days : ndarray, shape (n_places,)
        After the data date; infinite where no change is planned.
    again : ndarray, shape (n_places,), days
        Age at which its successors are to be changed.
    """

    days: Floats
    again: Floats

    @property
    def is_near(self) -> NDArray[np.bool_]:
        """Tell which changes fall within the months of the forecast."""
        return self.days <= HORIZON_DAYS


@dataclass(frozen=True)
class ReplacedLaw(CellLaw):
    """The law of a cell whose hoses are taken out at set ages.

    Attributes
    ----------
    removed_at : ndarray, shape (n,), days
        Age at which the hose now at each place is taken out.
    again : float, days
        The same for new hoses.
    """

    removed_at: Floats
    again: float

    def cumulative_hazard(self, age: Floats) -> Singles:
        """Return the hazard of being taken out or failing, at ages of new hoses or of places.

        Parameters
        ----------
        age : ndarray, shape (n_ages,) or (n_ages, n), days
            One column a place: ages of the hose there. Without columns: ages of a new hose.

        Returns
        -------
        ndarray, shape (*age.shape, n_draws)
        """
        limit = self.removed_at if age.ndim == 2 else self.again
        total = super().cumulative_hazard(age)
        return np.asarray(total + CERTAIN * (age >= limit)[..., None], np.float32)


def planned_demand(
    draws: PooledDraws, strata: Strata, present: Present, rate: Singles, planned: PlannedDays,
    removals: Sequence[Removal] | None = None, share: Floats = IN_TIME,
) -> Iterator[PlaceForecast]:
    """Forecast all changes, by failure or by plan, at the places with a planned change ahead.

    Parameters
    ----------
    draws : PooledDraws
    strata : Strata
    present : Present
    rate : ndarray, shape (n_places, n_draws)
    planned : PlannedDays
    removals : sequence of Removal, one a cell
        How hoses came out unfailed so far; matters only where that is on record late.
    share : ndarray, shape (k,)
        Of a month's removals on record 0, 1, ... months later.

    Yields
    ------
    PlaceForecast
        ``expected`` and ``variance`` count hoses used for either reason.

    Notes
    -----
    Survival falls to 0 on the planned day, so that the place needs a hose by then for certain,
    once, whether it fails before or not; failures and plans are one formula and nothing is
    counted twice. The successors' age is rounded up to whole months. A hose that is there no more
    although no log says so has a successor already, which comes out at its own age.
    """
    within = np.minimum(np.ceil(planned.again / DAYS_A_MONTH), N_MONTHS + 1.0)
    cell, age = present.cell, present.age
    mine = planned.is_near & (cell >= 0)
    for number in np.unique(cell[mine]):
        law = cell_law(draws, strata, int(number))
        here = mine & (cell == number)
        for months in np.unique(within[here]):
            group = np.flatnonzero(here & (within == months))
            for at in range(0, group.size, BLOCK):
                block = group[at : at + BLOCK]
                again = float(months * DAYS_A_MONTH)
                old = _replaced(law, block, age[block], rate[block],
                                age[block] + planned.days[block], again)
                if share.size == 1:
                    yield old
                    continue
                young = successor_age(age[block], share)
                new = _replaced(law, block, young, rate[block],
                                np.maximum(again, young + 1.0), again)
                past = cell_law(draws, strata, int(number), removals)
                yield mixed(old, new, late_chances(past, age[block], rate[block], share)[0])


def _replaced(
    law: CellLaw, block: Ints, age: Floats, rate: Singles, removed_at: Floats, again: float
) -> PlaceForecast:
    """Forecast a block of places whose hoses are taken out at set ages."""
    replaced = ReplacedLaw(law.shape, law.log_life, removed_at, again)
    return together(
        forecast_places(replaced, block, age, rate, least_steps=STEPS_OF_DAYS), block)
