"""Read the exposure of many strata at many shapes, again and again, as fast as arrays allow."""

from __future__ import annotations

from copy import copy

import numpy as np
from numpy.typing import NDArray

from etl.life.curves import LOG_SHAPE_NODES, LOG_SHAPE_STEP, N_NODES, Curves, evaluate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DEGREE = 5
"""Of the polynomial between two nodes; agrees with the curves to 1e-7 in log exposure."""

POINTS = np.cos(np.pi * (np.arange(DEGREE + 1) + 0.5) / (DEGREE + 1))
AT = LOG_SHAPE_NODES[:-1, None] + 0.5 * LOG_SHAPE_STEP * (POINTS + 1.0)
FROM_VALUES = np.linalg.inv(np.vander(POINTS, increasing=True)).T

NOTHING = -1e6
"""Log exposure of a cell without any; its exponential is 0 at any life worth a thought."""


class CurveReader:
    """Log exposure and its slope at each stratum's own shape.

    Parameters
    ----------
    curves : Curves
    cell : ndarray of int, shape (n_strata,)
        Cell of each stratum.
    """

    def __init__(self, curves: Curves, cell: Ints) -> None:
        """Turn each curve into one polynomial a step of its ladder."""
        self._curves, self._cell = curves, cell
        self._row = cell * (N_NODES - 1)
        self._part = _polynomials(curves)

    def changed(self, curves: Curves, part: Curves, cells: Ints) -> CurveReader:
        """Return a reader of curves that differ from these in some cells.

        Parameters
        ----------
        curves : Curves
            All of them.
        part : Curves
            Those of the cells that differ.
        cells : ndarray of int, shape (part.n_cells,)

        Returns
        -------
        CurveReader
        """
        reader = copy(self)
        reader._curves = curves
        steps = self._part.reshape(DEGREE + 1, -1, N_NODES - 1).copy()
        steps[:, cells] = _polynomials(part).reshape(DEGREE + 1, -1, N_NODES - 1)
        reader._part = steps.reshape(DEGREE + 1, -1)
        return reader

    def read(self, log_shape: Floats) -> tuple[Floats, Floats]:
        """Return log S0 of each stratum and its slope in log shape.

        Parameters
        ----------
        log_shape : ndarray, shape (n_strata,)

        Returns
        -------
        value, slope : ndarray, shape (n_strata,)
            As `evaluate` gives them, but for a hair.
        """
        inside = np.minimum(np.maximum(log_shape, LOG_SHAPE_NODES[0]), LOG_SHAPE_NODES[-1])
        x = inside - LOG_SHAPE_NODES[0]
        x *= 1.0 / LOG_SHAPE_STEP
        left = np.minimum(x.astype(np.int64), N_NODES - 2)
        x -= left
        x *= 2.0
        x -= 1.0
        left += self._row
        value, slope = self._part[DEGREE].take(left), np.zeros_like(x)
        for power in range(DEGREE - 1, -1, -1):  # in place: this loop is most of a chain's time
            slope *= x
            slope += value
            value *= x
            value += self._part[power].take(left)
        slope *= 2.0 / LOG_SHAPE_STEP
        outside = np.flatnonzero(inside != log_shape)
        if outside.size:
            beyond, rise, _ = evaluate(self._curves, self._cell[outside], log_shape[outside])
            value[outside], slope[outside] = np.maximum(beyond, NOTHING), rise
        return value, slope


def _polynomials(curves: Curves) -> Floats:
    """Return the coefficients between nodes, shape (DEGREE + 1, n_cells * (N_NODES - 1))."""
    value, _, _ = evaluate(curves, np.arange(curves.n_cells)[:, None, None], AT)
    value = np.maximum(value, NOTHING).reshape(-1, DEGREE + 1)
    return np.ascontiguousarray((value @ FROM_VALUES).T)
