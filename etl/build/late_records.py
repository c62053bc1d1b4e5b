"""What failures that are not on record yet change: lives as far as they were surely watched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives
from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.build.track.laws import Present, cell_law
from etl.life.late_forecasts import forecast_late
from etl.life.pooling.pool import PooledDraws
from etl.life.renewal import PlaceForecast
from etl.life.reporting_delay import watched_rows

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

MOST_MONTHS = 12
"""Delay by which all failures are taken as recorded: later ones are corrections, not delays."""
LOOK_BACK = 24
"""Months of failures that tell how late records come."""


def watched_lives(lives: Lives, present: Present, share: Floats) -> Lives:
    """Return the lives with those of hoses in service cut to what has surely been watched.

    Parameters
    ----------
    lives : Lives
        The hose in service at a place is the suspension there of its age.
    present : Present
    share : ndarray, shape (k,)
        From `etl.life.reporting_delay.recorded_share`.
    """
    if share.size == 1:
        return lives
    is_open = (lives.mechanism == -1) & (lives.cell == present.cell[lives.place]) & (
        lives.low == present.age[lives.place])
    # A row may stand for the hose in service and for others that came out at its age.
    others = lives.count - is_open
    of = np.concatenate([np.flatnonzero(others > 0.0), np.flatnonzero(is_open)])
    n_open = int(is_open.sum())
    count = np.concatenate([others[others > 0.0], np.ones(n_open)])
    row, low, count = watched_rows(lives.entry[of], lives.low[of], count,
                                   np.arange(of.size) >= of.size - n_open, share)
    mine = of[row]
    return replace(
        lives, cell=lives.cell[mine], entry=lives.entry[mine], high=lives.high[mine],
        mechanism=lives.mechanism[mine], place=lives.place[mine], low=low, count=count)


def late_forecasts(
    draws: PooledDraws, strata: Strata, present: Present, rate: Singles,
    removals: Sequence[Removal], share: Floats,
) -> Iterator[tuple[PlaceForecast, Singles]]:
    """Yield the forecasts of all places, of whichever hose may really be there.

    Parameters
    ----------
    draws : PooledDraws
    strata : Strata
    present : Present
    rate : ndarray, shape (n_places, n_draws)
        Multiplier of the hazard at each place.
    removals : list of Removal, one a cell
    share : ndarray, shape (k,)
        From `etl.life.reporting_delay.recorded_share`.

    Yields
    ------
    PlaceForecast, ndarray of shape (n, n_draws)
        As `etl.life.late_forecasts.forecast_late` does.
    """
    for number, mine in present.cells():
        law = cell_law(draws, strata, number, removals)
        yield from forecast_late(law, mine, present.age[mine], rate[mine], share)
