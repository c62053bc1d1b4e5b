"""The laws that forecasts of an earlier month rest on: ours, and the rivals it is set against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives, sums
from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.life.cell_law import CellLaw
from etl.life.fit import fit_strata
from etl.life.pooling.pool import PooledDraws
from etl.life.renewal import PlaceForecast, forecast_places

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Present:
    """The hoses in service.

    Attributes
    ----------
    cell : ndarray of int, shape (n_places,)
        Application class and construction together; -1 where there is no hose.
    age : ndarray, shape (n_places,), days
    """

    cell: Ints
    age: Floats

    def cells(self) -> Iterator[tuple[int, Ints]]:
        """Yield each cell with a hose in service, and its places."""
        for number in np.unique(self.cell[self.cell >= 0]):
            yield int(number), np.flatnonzero(self.cell == number)


def cell_law(
    draws: PooledDraws, strata: Strata, number: int, removals: Sequence[Removal] | None = None
) -> CellLaw:
    """Return the joint draws of one cell, with its removals by habit where these are given."""
    own = np.flatnonzero(strata.cell == number)
    return CellLaw(np.exp(draws.log_shape[:, own]), draws.log_life[:, own],
                   removal=None if removals is None else removals[number])


def plug_in_forecasts(
    lives: Lives, daily_rate: Floats, present: Present, removals: list[Removal]
) -> Iterator[PlaceForecast]:
    """Yield forecasts by the most likely life of each kind, as if it were known for certain.

    Parameters
    ----------
    lives : Lives
    daily_rate : ndarray, shape (n_cells,)
        From `constant_rates`; stands in where a kind has no finite estimate.
    present : Present
    removals : list of Removal, one a cell

    Yields
    ------
    PlaceForecast
        Of one draw: two-parameter Weibull by maximum likelihood, any mechanism.
    """
    fit = fit_strata(lives.cell, lives.entry, lives.low, lives.high, lives.count, lives.n_cells)
    known = np.isfinite(fit.shape) & np.isfinite(fit.characteristic_life)
    shape = np.where(known, fit.shape, 1.0)
    life = np.where(known, fit.characteristic_life, 1.0 / np.maximum(daily_rate, 1e-9))
    for number, mine in present.cells():
        law = CellLaw(np.full((1, 1), shape[number], np.float32),
                      np.full((1, 1), np.log(life[number]), np.float32),
                      removal=removals[number])
        like_peers = np.ones((mine.size, 1), np.float32)
        yield from forecast_places(law, mine, present.age[mine], like_peers)


def constant_rates(lives: Lives) -> Floats:
    """Return failures a day in service of each kind, whatever the age.

    Parameters
    ----------
    lives : Lives

    Returns
    -------
    ndarray, shape (n_cells,)
        Of the application class where a kind has not failed yet; of the fleet where the class
        has not.
    """
    failed = np.where(lives.is_failure, lives.count, 0.0)
    days = lives.count * np.maximum(lives.end - lives.entry, 0.0)
    of_class = lives.cell_class[lives.cell]
    n_classes = len(lives.classes)
    by_class = _rate(sums(of_class, failed, n_classes), sums(of_class, days, n_classes))
    of_fleet = float(failed.sum() / max(days.sum(), 1.0))
    by_class = np.where(by_class > 0.0, by_class, of_fleet)
    own = _rate(sums(lives.cell, failed, lives.n_cells), sums(lives.cell, days, lives.n_cells))
    return np.where(own > 0.0, own, by_class[lives.cell_class])


def _rate(failed: Floats, days: Floats) -> Floats:
    return np.asarray(np.divide(failed, days, out=np.zeros(days.shape), where=days > 0.0))
