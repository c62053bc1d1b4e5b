"""Hoses that changed places, declared in the mapping: rows of the logs that nobody wrote down."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import duckdb

from etl.load.place_history import Swap
from etl.load.warehouse import run_text

REASON = "relocated"


class Move(NamedTuple):
    """One hose that came out of a place, or went in, on the day of a swap."""

    on: str
    service_point: str
    hose_id: str


def moves(swaps: Sequence[Swap]) -> tuple[list[Move], list[Move]]:
    """Return the removals and the installations that swaps stand for.

    Parameters
    ----------
    swaps : sequence of Swap

    Returns
    -------
    tuple of list of Move
        Two removals and two installations a swap, in the order of their declaration. A hose
        without a tag gets one made of place and day, so that it keeps its age.

    Examples
    --------
    >>> import datetime as dt
    >>> swap = Swap(on=dt.date(2024, 3, 1), places=["P1", "P2"], hoses=["A", "B"])
    >>> [(move.service_point, move.hose_id) for move in moves([swap])[1]]
    [('P2', 'A'), ('P1', 'B')]
    """
    out, into = [], []
    for swap in swaps:
        day = swap.on.isoformat()
        tags = swap.hoses or [made_tag(place, day) for place in swap.places]
        out += [Move(day, place, tag) for place, tag in zip(swap.places, tags, strict=True)]
        into += [Move(day, place, tag)
                 for place, tag in zip(reversed(swap.places), tags, strict=True)]
    return out, into


def made_tag(service_point: str, day: str) -> str:
    """Return the tag of a hose that has none of its own: where it sat until its swap."""
    return f"{service_point} until {day}"


def insert_moves(con: duckdb.DuckDBPyConnection, load_id: int, swaps: Sequence[Swap]) -> int:
    """Put the rows of swaps into the raw layer; they are numbered like rows of a file.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    load_id : int
        Number under which the mapping stands in ``raw.loads``.
    swaps : sequence of Swap

    Returns
    -------
    int
        Rows put into each of the two logs.
    """
    out, into = moves(swaps)
    for entry_no, (table, rows, day, further, value) in enumerate((
        ("installations_rows", into, "installed_on", "", ""),
        ("replacements_rows", out, "removed_on", ", reason", f", '{REASON}'"),
    ), start=1):
        run_text(
            con,
            f"insert into raw.{table} (load_id, entry_no, source_row, {day}, service_point,"
            f" hose_id{further}) select $load_id, {entry_no}, unnest($rows), unnest($days),"
            f" unnest($places), unnest($tags){value}",
            load_id=load_id, rows=[number + 2 for number in range(len(rows))],
            days=[move.on for move in rows], places=[move.service_point for move in rows],
            tags=[move.hose_id for move in rows],
        )
    return len(out)
