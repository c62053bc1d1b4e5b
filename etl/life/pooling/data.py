"""What pooling needs to know of the strata, and their likelihood from exposure curves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from etl.life.curves import Curves, evaluate
from etl.life.pooling.reader import CurveReader

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GREATEST_EXPONENT = 300.0


@dataclass(frozen=True)
class PoolingData:
    """Strata, their factors and all that was observed.

    Attributes
    ----------
    curves : Curves
        Exposure of each cell; a failure between two looks is exposed to the middle of its
        interval.
    stratum_cell : ndarray of int, shape (n_strata,)
        Sorted.
    factors : tuple of ndarray of int, each shape (n_strata,)
        Level of each stratum in each factor, such as class, construction and mechanism.
    n_exact, sum_log_age : ndarray, shape (n_strata,)
        Failures by the stratum's mechanism at a known age, and their summed log ages.
    masked_cell : ndarray of int, shape (n_masked,)
        Cell of each failure at a known age whose mechanism is unknown.
    masked_age : ndarray, shape (n_masked,)
    interval_cell, interval_stratum : ndarray of int, shape (n_intervals,)
        Failures between two looks; stratum -1 where the mechanism is unknown as well.
    interval_low, interval_high : ndarray, shape (n_intervals,)
    """

    curves: Curves
    stratum_cell: Ints
    factors: tuple[Ints, ...]
    n_exact: Floats
    sum_log_age: Floats
    masked_cell: Ints
    masked_age: Floats
    interval_cell: Ints
    interval_stratum: Ints
    interval_low: Floats
    interval_high: Floats

    @property
    def n_strata(self) -> int:
        """Number of strata."""
        return int(self.stratum_cell.size)

    @cached_property
    def stratum_centre(self) -> Floats:
        """Centre of the exposure curve of each stratum."""
        return self.curves.centre[self.stratum_cell]

    @cached_property
    def reader(self) -> CurveReader:
        """Quick reader of the exposure of each stratum."""
        return CurveReader(self.curves, self.stratum_cell)

    @property
    def interval_middle(self) -> Floats:
        """Age up to which the curves of the data expose an interval failure."""
        return 0.5 * (self.interval_low + self.interval_high)

    def rivals(self) -> Ints:
        """Return the strata that compete in each cell, padded with -1.

        Returns
        -------
        ndarray of int, shape (n_cells, most strata in a cell)
        """
        count = np.bincount(self.stratum_cell, minlength=self.curves.n_cells)
        width = int(count.max(initial=1))
        table = np.full((self.curves.n_cells, max(width, 1)), -1, np.int64)
        start = np.cumsum(count) - count
        place = np.arange(self.n_strata) - start[self.stratum_cell]
        table[self.stratum_cell, place] = np.arange(self.n_strata)
        return table


@dataclass(frozen=True)
class Completed:
    """Failures with every unknown filled in for the moment.

    Attributes
    ----------
    n_failures : ndarray, shape (n_strata,)
    sum_centred : ndarray, shape (n_strata,)
        Summed log ages at failure, each less the centre of its curve.
    reader : CurveReader
        Exposure of each stratum, interval failures exposed to the age taken for them.
    """

    n_failures: Floats
    sum_centred: Floats
    reader: CurveReader


def value_and_slope(
    data: PoolingData, done: Completed, log_shape: Floats, log_life: Floats
) -> tuple[Floats, Floats]:
    """Return the log-likelihood of each stratum and its slope.

    Parameters
    ----------
    data : PoolingData
    done : Completed
    log_shape, log_life : ndarray, shape (n_strata,)

    Returns
    -------
    value : ndarray, shape (n_strata,)
        Up to a constant that does not depend on the parameters.
    slope : ndarray, shape (n_strata, 2)
        In log shape and log characteristic life.
    """
    b = np.exp(log_shape)
    log_sum, first = done.reader.read(log_shape)
    away = log_life - data.stratum_centre
    away *= b
    hazard = log_sum - away
    np.exp(np.minimum(hazard, GREATEST_EXPONENT, out=hazard), out=hazard)
    r, late = done.n_failures, b * done.sum_centred
    value = r * (log_shape - away)
    value += late
    value -= hazard
    first -= away
    first *= hazard
    late += r * (1.0 - away)
    slope = np.empty((b.size, 2))
    np.subtract(late, first, out=slope[:, 0])
    np.multiply(b, hazard - r, out=slope[:, 1])
    return value, slope


def hill(
    data: PoolingData, done: Completed, log_shape: Floats, log_life: Floats
) -> tuple[Floats, Floats]:
    """Return slope and curvature of the log-likelihood of each stratum, intervals at the middle.

    Parameters
    ----------
    data, done, log_shape, log_life
        As in `value_and_slope`.

    Returns
    -------
    slope : ndarray, shape (n_strata, 2)
    curvature : ndarray, shape (n_strata, 2, 2)
        In (log shape, log characteristic life).
    """
    b = np.exp(log_shape)
    value, first, second = evaluate(data.curves, data.stratum_cell, log_shape)
    centre = data.curves.centre[data.stratum_cell]
    r, s = done.n_failures, done.sum_centred
    away = b * (log_life - centre)
    hazard = np.exp(np.minimum(value - away, GREATEST_EXPONENT))
    slope = np.stack(
        [r * (1.0 - away) + b * s - hazard * (first - away), b * (hazard - r)], axis=-1
    )
    uu = -r * away + b * s - hazard * ((second - away) + (first - away) ** 2)
    um = -r * b + hazard * b * (1.0 + first - away)
    curvature = np.stack(
        [np.stack([uu, um], axis=-1), np.stack([um, -(b**2) * hazard], axis=-1)], axis=-2
    )
    return slope, curvature
