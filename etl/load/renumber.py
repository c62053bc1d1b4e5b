"""New numbers of stays: those behind a touched place move by what it has more than before."""

from __future__ import annotations

from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.integer[Any]]
AGAIN = """
select point_no, count(*) as n_stays, min(stay_id) - 1 as n_before
from lives.stays_part
group by point_no
"""
"""Stays of touched places as they are now, numbered among themselves."""
MOVED = """
create or replace table append.moved as
select p.point_no, p.retired_on, m.is_touched, m.shift
from base.place_stays as p
positional join moves as m
"""


def shifts(n_stays: Numbers, touched: Numbers,
           again: tuple[Numbers, Numbers, Numbers]) -> Numbers:
    """Return by how much the numbers of the stays of each place move.

    Parameters
    ----------
    n_stays : array of int, shape (places,)
        Stays of each place as they were, numbered place by place.
    touched : array of int
        Places, counted from 0, whose stays were made again.
    again : tuple of three arrays of int
        Of the touched places that have stays now: which, how many, and how many before them among
        the stays made again, by which these are numbered so far.

    Returns
    -------
    array of int, shape (places,)

    Examples
    --------
    The second of three places with two stays each got a third one:

    >>> two, at = np.array([2, 2, 2]), np.array([1])
    >>> shifts(two, at, (at, np.array([3]), np.array([0]))).tolist()
    [0, 2, 1]
    """
    which, n_now, n_before_among = again
    n_before = np.cumsum(n_stays, dtype=np.int64) - n_stays
    more = np.zeros(len(n_stays), np.int64)
    more[touched] -= n_stays[touched]
    more[which] += n_now
    moved = np.cumsum(more) - more
    moved[touched] += n_before[touched]
    moved[which] -= n_before_among
    return moved


def make_moved(con: duckdb.DuckDBPyConnection) -> None:
    """Make ``append.moved``: one row per service point, by how much its stays' numbers move.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds ``append.touched``, ``base.place_stays`` (a row for each place, numbered from 1
        without a gap, in order) and ``lives.stays_part``.

    Raises
    ------
    duckdb.DataError
        Places do not stand in that order: what is kept is damaged.
    """
    places = _columns(con, "select point_no, n_stays from base.place_stays")
    if not np.array_equal(places["point_no"], np.arange(1, len(places["point_no"]) + 1)):
        raise duckdb.DataError("base.place_stays: its rows do not stand in their order")
    touched = _columns(con, "from append.touched")["point_no"] - 1
    again = _columns(con, AGAIN)
    moved = shifts(places["n_stays"], touched,
                   (again["point_no"] - 1, again["n_stays"], again["n_before"]))
    is_touched = np.zeros(len(moved), dtype=bool)
    is_touched[touched] = True
    con.register("moves", {"is_touched": is_touched, "shift": moved})
    con.execute(MOVED)
    con.unregister("moves")


def _columns(con: duckdb.DuckDBPyConnection, query: str) -> dict[str, Numbers]:
    """Return the columns of a query that yields whole numbers alone."""
    return {name: np.asarray(values) for name, values in con.execute(query).fetchnumpy().items()}
