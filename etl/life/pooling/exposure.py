"""Exposure of the failures between two looks, to the ages that are drawn for them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.life.curves import Curves, power_sums
from etl.life.pooling.data import PoolingData
from etl.life.pooling.reader import CurveReader
from etl.life.segments import segments

Floats = NDArray[np.float64]

ROUNDING = 1e-12
"""Share of a sum below which what is left of it after a subtraction is taken as nothing."""


class IntervalExposure:
    """Moves the exposure of interval failures from the middle of their intervals elsewhere.

    All mechanisms of a cell are exposed by the same lives, so one curve a cell is corrected, not
    each stratum at each step of the chain.

    Parameters
    ----------
    data : PoolingData
    """

    def __init__(self, data: PoolingData) -> None:
        """Take the exposure to the middles out of the curves."""
        self._data = data
        self._order = np.argsort(data.interval_cell, kind="stable")
        cell = data.interval_cell[self._order]
        self._runs = segments(cell)
        self._centre = data.curves.centre[cell]
        whole = np.stack([data.curves.s0, data.curves.s1, data.curves.s2])[:, self._runs.keys]
        middles = self._sums(np.log(data.interval_middle))
        left = whole - middles
        left[:, np.abs(left[0]) <= ROUNDING * middles[0]] = 0.0
        self._left = left

    def reader(self, log_age: Floats) -> CurveReader:
        """Return a reader of the curves with each interval failure exposed to an age.

        Parameters
        ----------
        log_age : ndarray, shape (n_intervals,)
            Within its interval, by interval failure.

        Returns
        -------
        CurveReader
        """
        drawn = self._sums(log_age)
        sums = self._left + drawn
        np.maximum(sums[0], ROUNDING * drawn[0], out=sums[0])  # entered late, failed at once
        curves, cells = self._data.curves, self._runs.keys
        part = Curves(curves.log_shape_nodes, sums[0], sums[1], sums[2], curves.centre[cells])
        whole = [old.copy() for old in (curves.s0, curves.s1, curves.s2)]
        for old, fresh in zip(whole, sums, strict=True):
            old[cells] = fresh
        moved = replace(curves, s0=whole[0], s1=whole[1], s2=whole[2])
        return self._data.reader.changed(moved, part, cells)

    def _sums(self, log_age: Floats) -> Floats:
        """Return the sums of each cell that has interval failures."""
        y = log_age[self._order] - self._centre
        return power_sums(y, np.ones(y.size), self._runs)
