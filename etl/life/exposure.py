"""Exact exposure sums at one shape a stratum: one pass over the lives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.segments import Segments

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Exposure:
    """Rows of exposure of some strata.

    Attributes
    ----------
    y : ndarray, shape (n_rows,)
        Centred log ages, sorted by stratum.
    weight : ndarray, shape (n_rows,), or None
        Signed counts; None if all are 1.
    runs : Segments
        ``runs.keys`` are the strata.
    """

    y: Floats
    weight: Floats | None
    runs: Segments

    def sums(self, shape: Floats, highest_power: int, is_rough: bool = False) -> Floats:
        """Return ``sum weight * y ** p * exp(shape * y)`` for p = 0 .. highest_power.

        Parameters
        ----------
        shape : ndarray, shape (n_keys,)
            One shape for each stratum of ``runs.keys``.
        highest_power : int
        is_rough : bool
            Work in single precision, at half the cost: good to about 1e-5 of the first sum.

        Returns
        -------
        ndarray, shape (highest_power + 1, n_keys)
        """
        runs = self.runs
        pieces = np.empty((highest_power + 1, runs.piece_starts.size))
        piece_sizes = np.diff(np.append(runs.piece_starts, runs.n_rows))
        n_pieces = np.diff(np.append(runs.first_piece, runs.piece_starts.size))
        number = np.float32 if is_rough else np.float64
        piece_shape = np.repeat(shape.astype(number, copy=False), n_pieces)
        for rows, where, starts in runs.blocks():
            y = self.y[rows].astype(number, copy=False)
            term = np.repeat(piece_shape[where], piece_sizes[where])
            np.multiply(term, y, out=term)
            np.exp(term, out=term)
            if self.weight is not None:
                np.multiply(term, self.weight[rows], out=term)
            pieces[0, where] = np.add.reduceat(term, starts)
            for power in range(1, highest_power + 1):
                np.multiply(term, y, out=term)
                pieces[power, where] = np.add.reduceat(term, starts)
        return runs.join(pieces)

    def only(self, is_kept: NDArray[np.bool_]) -> Exposure:
        """Return the rows of some of the strata, shape (n_keys,)."""
        rows, runs = self.runs.rows_of(is_kept)
        return Exposure(self.y[rows], None if self.weight is None else self.weight[rows], runs)
