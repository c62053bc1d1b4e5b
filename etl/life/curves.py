"""Additive exposure curves: all that a set of lives says about survival, in 75 numbers a cell.

The log-likelihood of a Weibull distribution needs the lives only through ``sum t ** shape`` and
the count and summed log age of the failures. The sum is kept at 25 shapes with its first two
derivatives. Curves of cells add up, serve every mechanism of a cell, and are read in between by
interpolation, so no later step goes back to the lives.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.errors import FitError
from etl.life.interpolate import between_nodes, third_differences
from etl.life.segments import Segments, segments, sorting_order

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

N_NODES = 25
NODES_PER_DOUBLING = 3
LOG_SHAPE_STEP = float(np.log(2.0)) / NODES_PER_DOUBLING
LOG_SHAPE_NODES: Floats = np.log(0.125) + LOG_SHAPE_STEP * np.arange(N_NODES)
"""Log shapes at which the sums are kept: shape 0.125 to 32, three nodes to a doubling."""


@dataclass(frozen=True)
class Curves:
    """Exposure of each cell over a ladder of shapes.

    Attributes
    ----------
    log_shape_nodes : ndarray, shape (25,)
    s0, s1, s2 : ndarray, shape (n_cells, 25)
        ``sum count * y ** p * exp(shape * y)`` over lives, less the same sum over entry ages,
        p = 0, 1, 2, with ``y = log(age) - centre``. All zero in a cell without exposure.
    centre : ndarray, shape (n_cells,)
        Log of the greatest age in the cell; 0 in a cell without exposure.
    """

    log_shape_nodes: Floats
    s0: Floats
    s1: Floats
    s2: Floats
    centre: Floats

    @property
    def n_cells(self) -> int:
        """Number of cells."""
        return int(self.centre.size)

    @cached_property
    def is_empty(self) -> NDArray[np.bool_]:
        """Cells without exposure, shape (n_cells,)."""
        return np.asarray(np.any(self.s0 <= 0.0, axis=1))

    @cached_property
    def node_values(self) -> Floats:
        """Log S0 and three derivatives at the nodes, in steps of them, shape (n_cells * 25, 4)."""
        shape = np.exp(self.log_shape_nodes)
        safe = np.where(self.is_empty[:, None], 1.0, self.s0)
        first = shape * self.s1 / safe
        second = first + shape**2 * self.s2 / safe - first**2
        values = np.stack([np.log(safe), first, second], axis=-1)
        third = third_differences(values, LOG_SHAPE_STEP)
        scaled = np.concatenate([values * LOG_SHAPE_STEP ** np.arange(3.0), third[..., None]], -1)
        return scaled.reshape(-1, 4)


def exposure_curves(
    cell: ArrayLike, age: ArrayLike, entry: ArrayLike, count: ArrayLike, n_cells: int
) -> Curves:
    """Reduce lives to the exposure curve of each cell.

    Parameters
    ----------
    cell : array_like of int, shape (n,)
        Cell of each life, 0 .. n_cells - 1.
    age : array_like of float, shape (n,)
        Age at the end of each life, any unit of time; the lower end of an interval life. An age
        at or below the entry age adds nothing.
    entry : array_like of float, shape (n,)
        Age at entry, >= 0; 0 where the life was seen from new.
    count : array_like of float, shape (n,)
        Lives that a row stands for, > 0; fractions allowed.
    n_cells : int

    Returns
    -------
    Curves

    Raises
    ------
    FitError
        Lengths differ, an age, entry or count is negative or not finite, or a cell is outside.

    Notes
    -----
    Three exponentials a life; every other node follows by squaring.
    """
    rows = _checked(cell, age, entry, count)
    key, ages, entries, counts = rows
    keep = (ages > entries) & (counts > 0.0)
    if not bool(keep.all()):
        key, ages, entries, counts = key[keep], ages[keep], entries[keep], counts[keep]
    order = sorting_order(key, n_cells)
    if order is not None:
        key, ages, entries, counts = key[order], ages[order], entries[order], counts[order]
    centre = np.zeros(n_cells)
    sums = np.zeros((3, n_cells, N_NODES))
    runs = segments(key)
    log_age = np.log(ages)
    centre[runs.keys] = runs.max(log_age)
    sums[:, runs.keys] = power_sums(log_age - runs.spread(centre[runs.keys]), counts, runs)
    late = np.flatnonzero(entries > 0.0)
    if late.size:
        late_runs = segments(key[late])
        y = np.log(entries[late]) - centre[key[late]]
        sums[:, late_runs.keys] -= power_sums(y, counts[late], late_runs)
    return Curves(LOG_SHAPE_NODES, sums[0], sums[1], sums[2], centre)


def merge(curves: Curves, group: ArrayLike, n_groups: int) -> Curves:
    """Add the curves of cells that belong together.

    Parameters
    ----------
    curves : Curves
    group : array_like of int, shape (n_cells,)
        Group of each cell, 0 .. n_groups - 1; negative leaves the cell out.
    n_groups : int

    Returns
    -------
    Curves
        One curve a group; exactly the curve that the pooled lives would give, up to rounding.

    Raises
    ------
    FitError
        A group number is too large, or not one is given for each cell.
    """
    into = np.asarray(group, np.intp)
    if into.shape != (curves.n_cells,):
        raise FitError(
            f"merge: one group a cell is wanted ({curves.n_cells}), found {into.shape}. "
            "Give -1 for cells to leave out."
        )
    used = np.flatnonzero((into >= 0) & ~curves.is_empty)
    order = sorting_order(into[used], n_groups)
    used = used if order is None else used[order]
    runs = segments(into[used])
    centre = np.zeros(n_groups)
    centre[runs.keys] = runs.max(curves.centre[used])
    shift = (curves.centre[used] - centre[into[used]])[:, None]
    factor = np.exp(np.exp(curves.log_shape_nodes) * shift)
    s0, s1, s2 = curves.s0[used], curves.s1[used], curves.s2[used]
    moved = (s0, s1 + shift * s0, s2 + 2.0 * shift * s1 + shift**2 * s0)
    sums = np.zeros((3, n_groups, N_NODES))
    if used.size:
        for power, part in enumerate(moved):
            sums[power, runs.keys] = np.add.reduceat(factor * part, runs.starts, axis=0)
    return Curves(curves.log_shape_nodes, sums[0], sums[1], sums[2], centre)


def evaluate(
    curves: Curves, cell: ArrayLike, log_shape: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return log S0 of cells with its first and second derivative in log shape.

    Parameters
    ----------
    curves : Curves
    cell : array_like of int
    log_shape : array_like of float
        Broadcasts against ``cell``.

    Returns
    -------
    value, slope, curvature : ndarray, the broadcast shape
        ``value`` is -inf, the others 0, in a cell without exposure.

    Notes
    -----
    Hermite interpolation of seventh degree in log shape. The cumulative hazard of a cell at a
    given shape is ``exp(value + shape * (centre - log_characteristic_life))``. Above the ladder,
    log S0 is continued as a straight line in the shape; below it, S0 by its series.
    """
    which, u = np.broadcast_arrays(np.asarray(cell, np.intp), np.asarray(log_shape, np.float64))
    nodes = curves.log_shape_nodes
    inside = np.clip(u, nodes[0], nodes[-1])
    position = (inside - nodes[0]) / LOG_SHAPE_STEP
    left = np.minimum(position.astype(np.intp), N_NODES - 2)
    empty = curves.is_empty[which]
    safe = np.where(empty, 0, which)  # any row will do: replaced below
    row = safe * N_NODES + left
    low, high = curves.node_values[row], curves.node_values[row + 1]
    value, slope, curvature = between_nodes(low, high, position - left, LOG_SHAPE_STEP)
    above = u > inside
    if bool(above.any()):
        rate = slope / np.exp(inside)  # d log S0 / d shape at the end of the ladder
        value = np.where(above, value + rate * (np.exp(u) - np.exp(inside)), value)
        slope = np.where(above, rate * np.exp(u), slope)
        curvature = np.where(above, slope, curvature)
    below = (u < inside) & ~empty
    if bool(below.any()):
        value, slope, curvature = np.array(value), np.array(slope), np.array(curvature)
        value[below], slope[below], curvature[below] = _below_ladder(
            curves, which[below], np.exp(u[below]))
    if bool(empty.any()):
        value = np.where(empty, -np.inf, value)
        slope, curvature = np.where(empty, 0.0, slope), np.where(empty, 0.0, curvature)
    return value, slope, curvature


def _below_ladder(curves: Curves, cell: Ints, shape: Floats) -> tuple[Floats, Floats, Floats]:
    """Return value, slope and curvature at shapes below the ladder."""
    first = float(np.exp(curves.log_shape_nodes[0]))
    n0, n1, n2 = curves.s0[cell, 0], curves.s1[cell, 0], curves.s2[cell, 0]
    change = shape - first
    s0 = n0 + change * (n1 + 0.5 * change * n2)
    s1 = n1 + change * n2
    start = n0 - first * (n1 - 0.5 * first * n2)
    # where every life entered late, S0 falls to 0 in proportion to the shape
    vanishes = start < 0.02 * n0
    s0 = np.where(vanishes, 1.0, s0)
    slope = shape * s1 / s0
    curvature = slope + shape**2 * n2 / s0 - slope**2
    excess = first * n1 / n0 - 1.0
    share = shape / first
    late = np.log(n0 * share) + excess * (share - 1.0)
    return (np.where(vanishes, late, np.log(s0)),
            np.where(vanishes, 1.0 + excess * share, slope),
            np.where(vanishes, excess * share, curvature))


def power_sums(y: Floats, weight: Floats, runs: Segments) -> Floats:
    """Return ``sum weight * y ** p * exp(shape * y)`` over the rows of each key, p = 0, 1, 2.

    Parameters
    ----------
    y : ndarray, shape (n_rows,)
        Centred log ages, sorted by key.
    weight : ndarray, shape (n_rows,)
        Counts; negative for entry ages.
    runs : Segments

    Returns
    -------
    ndarray, shape (3, n_keys, 25)
    """
    pieces = np.empty((3, N_NODES, runs.piece_starts.size))
    is_plain = bool(np.all(weight == 1.0))
    for rows, where, starts in runs.blocks():
        part = y[rows]
        term, power = np.empty_like(part), np.empty_like(part)
        for first in range(NODES_PER_DOUBLING):
            np.exp(np.exp(LOG_SHAPE_NODES[first]) * part, out=power)
            for node in range(first, N_NODES, NODES_PER_DOUBLING):
                if node > first:
                    np.multiply(power, power, out=power)
                if is_plain:
                    pieces[0, node, where] = np.add.reduceat(power, starts)
                    np.multiply(power, part, out=term)
                else:
                    np.multiply(power, weight[rows], out=term)
                    pieces[0, node, where] = np.add.reduceat(term, starts)
                    np.multiply(term, part, out=term)
                pieces[1, node, where] = np.add.reduceat(term, starts)
                np.multiply(term, part, out=term)
                pieces[2, node, where] = np.add.reduceat(term, starts)
    return runs.join(pieces).transpose(0, 2, 1)


def _checked(
    cell: ArrayLike, age: ArrayLike, entry: ArrayLike, count: ArrayLike
) -> tuple[Ints, Floats, Floats, Floats]:
    """Return the four columns as arrays of one length, or say what is wrong."""
    key = np.asarray(cell, np.intp)
    columns = [np.asarray(values, np.float64) for values in (age, entry, count)]
    for name, values in zip(("age", "entry", "count"), columns, strict=True):
        if values.shape != key.shape or key.ndim != 1:
            raise FitError(
                f"exposure_curves: {name} must have one value a row ({key.size}), "
                f"found shape {values.shape}. Give columns of one length."
            )
        if not values.size or (values.min() >= 0.0 and values.max() < np.inf):  # no NaN passes
            continue
        wrong = ~(np.isfinite(values) & (values >= 0.0))
        index = int(np.argmax(wrong))
        raise FitError(
            f"exposure_curves: {name} must be >= 0 and finite, got {values[index]} at index "
            f"{index} ({int(wrong.sum())} of {key.size} rows). Leave such rows out."
        )
    return key, columns[0], columns[1], columns[2]
