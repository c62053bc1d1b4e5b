"""The fitted lives as arrays, with classes, constructions and mechanisms as codes."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl.life.curves import Curves, exposure_curves

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

UNKNOWN = "unknown"
"""Mechanism of a failure that nobody has concluded; shared out among the known ones."""

DAYS = "days"
"""The clock of every life: calendar days in service."""

ANY = "all"
"""Published name of the stratum in which any failure counts."""


@dataclass(frozen=True)
class Lives:
    """Fitted lives, grouped by equal (cell, place, ages, mechanism), in a fixed order.

    Attributes
    ----------
    cell : ndarray of int, shape (n,)
        Application class and construction together.
    entry, low, high : ndarray, shape (n,), days
        Age at entry, and the ages between which the life ended: equal for an exact failure,
        ``high`` infinite for a suspension.
    mechanism : ndarray of int, shape (n,)
        Code of a failure's mechanism; -1 for a suspension, -2 for an unknown mechanism.
    place : ndarray of int, shape (n,)
        Code of the service point.
    count : ndarray, shape (n,)
    cell_class, cell_construction : ndarray of int, shape (n_cells,)
    classes, constructions, mechanisms, places : tuple of str
        Names of the codes, sorted.
    """

    cell: Ints
    entry: Floats
    low: Floats
    high: Floats
    mechanism: Ints
    place: Ints
    count: Floats
    cell_class: Ints
    cell_construction: Ints
    classes: tuple[str, ...]
    constructions: tuple[str, ...]
    mechanisms: tuple[str, ...]
    places: tuple[str, ...]

    @property
    def n_cells(self) -> int:
        """Cells with at least one fitted life or hose in service."""
        return int(self.cell_class.size)

    @property
    def is_failure(self) -> NDArray[np.bool_]:
        """True where the life ended by any mechanism."""
        return np.isfinite(self.high)

    @property
    def end(self) -> Floats:
        """Age at the end of each life; the middle of its interval for a hose found failed."""
        return np.where(self.is_failure, (self.low + np.where(self.is_failure, self.high, 0.0)) / 2,
                        self.low)

    @property
    def is_exact(self) -> NDArray[np.bool_]:
        """True where the age at failure is known to the day."""
        return np.asarray(self.is_failure & (self.low == self.high))


def read_lives(con: duckdb.DuckDBPyConnection, clock: str = DAYS) -> Lives:
    """Read the fitted lives of the work database.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the tables of the schema ``fit``.
    clock : str
        What ages are counted in: calendar days, or a clock of ``fit.clock_lives``; then only lives
        that readings of that clock tell, in its unit.

    Returns
    -------
    Lives
        Sorted by content, so that neither file order nor threads can change a sum.

    Notes
    -----
    Cells of hoses in service are listed even when none of their lives could be fitted: they
    still need a forecast, if a wide one.
    """
    cells = con.execute(
        "select application_class, construction from fit.cells order by cell"
    ).fetchall()
    classes = tuple(sorted({row[0] for row in cells}))
    constructions = tuple(sorted({row[1] for row in cells}))
    source = "fit.lives" if clock == DAYS else (
        "(select * from fit.clock_lives where clock = $clock and reading in ('whole', 'cut'))")
    frame = con.execute(
        f"select * from {source} order by cell, place, entry, low, high, mechanism",
        {} if clock == DAYS else {"clock": clock},
    ).fetchnumpy()
    return Lives(
        cell=np.asarray(frame["cell"], np.int64),
        entry=np.asarray(frame["entry"], np.float64),
        low=np.asarray(frame["low"], np.float64),
        high=np.asarray(frame["high"], np.float64),
        mechanism=np.asarray(frame["mechanism"], np.int64),
        place=np.asarray(frame["place"], np.int64),
        count=np.asarray(frame["n"], np.float64),
        cell_class=np.array([classes.index(row[0]) for row in cells], np.int64),
        cell_construction=np.array([constructions.index(row[1]) for row in cells], np.int64),
        classes=classes,
        constructions=constructions,
        mechanisms=_names(con, "select mechanism from fit.mechanisms order by code"),
        places=_names(con, "select service_point from fit.places order by place"),
    )


def sums(group: Ints, values: Floats, n_groups: int) -> Floats:
    """Return the sum of the values of each group, shape (n_groups,)."""
    return np.asarray(np.bincount(group, weights=values, minlength=n_groups), np.float64)


def curves_of(lives: Lives) -> Curves:
    """Reduce the lives to one exposure curve a cell; all pooled statistics start from these.

    A failure between two looks is exposed to the middle of its interval; the sampler corrects
    that to the age it draws.
    """
    return exposure_curves(lives.cell, lives.end, lives.entry, lives.count, lives.n_cells)


def _names(con: duckdb.DuckDBPyConnection, query: str) -> tuple[str, ...]:
    return tuple(row[0] for row in con.execute(query).fetchall())
