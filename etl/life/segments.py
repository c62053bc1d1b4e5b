"""Sums over consecutive runs of equal keys, in blocks that stay in the processor's cache."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.errors import FitError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

BLOCK = 1 << 16
"""Rows worked on at a time: large enough to hide the cost of a call, small enough for cache."""


@dataclass(frozen=True)
class Segments:
    """Runs of equal keys in rows sorted by key, cut again at the borders of the blocks.

    Attributes
    ----------
    n_rows : int
    keys : ndarray of int, shape (n_segments,)
        The keys that occur, rising.
    starts, sizes : ndarray of int, shape (n_segments,)
        First row and number of rows of each key.
    piece_starts : ndarray of int, shape (n_pieces,)
        First rows of the pieces: no piece crosses a key or a block.
    first_piece : ndarray of int, shape (n_segments,)
        First piece of each key.
    """

    n_rows: int
    keys: Ints
    starts: Ints
    sizes: Ints
    piece_starts: Ints
    first_piece: Ints

    def blocks(self) -> Iterator[tuple[slice, slice, Ints]]:
        """Yield, per block, its rows, its pieces, and the piece starts counted within the block."""
        borders = np.arange(0, self.n_rows, BLOCK)
        first = np.searchsorted(self.piece_starts, borders)
        last = np.append(first, self.piece_starts.size)[1:]
        for low, one, two in zip(borders.tolist(), first.tolist(), last.tolist(), strict=True):
            yield (slice(low, min(low + BLOCK, self.n_rows)), slice(one, two),
                   self.piece_starts[one:two] - low)

    def join(self, pieces: Floats) -> Floats:
        """Add the sums of pieces, shape (..., n_pieces), up to sums of keys, (..., n_segments)."""
        if not self.n_rows:
            return np.zeros((*pieces.shape[:-1], 0))
        if self.piece_starts.size == self.keys.size:
            return pieces
        return np.asarray(np.add.reduceat(pieces, self.first_piece, axis=-1))

    def sum(self, values: Floats) -> Floats:
        """Return the sum of ``values`` over the rows of each key, shape (n_segments,)."""
        if not self.n_rows:
            return np.zeros(0)
        return np.asarray(np.add.reduceat(values, self.starts))

    def max(self, values: Floats) -> Floats:
        """Return the greatest of ``values`` over the rows of each key, shape (n_segments,)."""
        if not self.n_rows:
            return np.zeros(0)
        return np.asarray(np.maximum.reduceat(values, self.starts))

    def rows_of(self, is_kept: NDArray[np.bool_]) -> tuple[Ints, Segments]:
        """Return the row numbers of some of the keys, and the runs among those rows."""
        sizes = self.sizes[is_kept]
        ends = np.cumsum(sizes)
        n_rows = int(ends[-1]) if ends.size else 0
        rows = np.arange(n_rows) + np.repeat(self.starts[is_kept] - (ends - sizes), sizes)
        return rows, segments(np.repeat(self.keys[is_kept], sizes))

    def spread(self, values: NDArray[np.float64]) -> Floats:
        """Repeat one value a key for each of its rows, shape (n_rows,)."""
        return np.repeat(values, self.sizes)


def segments(key: Ints) -> Segments:
    """Find the runs of equal keys.

    Parameters
    ----------
    key : ndarray of int, shape (n,)
        Sorted.

    Returns
    -------
    Segments

    Examples
    --------
    >>> runs = segments(np.array([0, 0, 3, 3, 3]))
    >>> runs.keys.tolist(), runs.sum(np.ones(5)).tolist()
    ([0, 3], [2.0, 3.0])
    """
    n_rows = key.size
    is_first = np.ones(n_rows, np.bool_)
    np.not_equal(key[1:], key[:-1], out=is_first[1:])
    starts = np.flatnonzero(is_first)
    is_first[::BLOCK] = True
    piece_starts = np.flatnonzero(is_first)
    return Segments(
        n_rows=n_rows, keys=key[starts].astype(np.intp), starts=starts,
        sizes=np.diff(np.append(starts, n_rows)), piece_starts=piece_starts,
        first_piece=np.searchsorted(piece_starts, starts),
    )


def sorting_order(key: Ints, n_keys: int) -> Ints | None:
    """Return the stable order that sorts the keys, or None where they are sorted already.

    Parameters
    ----------
    key : ndarray of int, shape (n,)
    n_keys : int
        Keys run from 0 to ``n_keys - 1``.

    Returns
    -------
    ndarray of int, shape (n,), or None

    Raises
    ------
    FitError
        A key lies outside 0 .. n_keys - 1.
    """
    if not key.size:
        return None
    outside = int(np.count_nonzero((key < 0) | (key >= n_keys)))
    if outside:
        raise FitError(
            f"group numbers must lie in 0 to {n_keys - 1}, found {int(key.min())} to "
            f"{int(key.max())} ({outside} of {key.size} rows outside). Number the groups from 0."
        )
    if bool(np.all(key[1:] >= key[:-1])):
        return None
    short = key.astype(np.uint16) if n_keys <= 1 << 16 else key  # 16-bit keys sort by radix
    return np.argsort(short, kind="stable")
