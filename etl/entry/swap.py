"""Two hoses that changed places, entered in the pages: the rows that a declared swap stands for."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from etl.entry.follow import follow
from etl.errors import InputError
from etl.load.place_history import Swap
from etl.load.swaps import REASON, made_tag, moves

LOGS = ("installations", "replacements")
Rows = dict[str, list[dict[str, str]]]


def swap_rows(on: str, here: Mapping[str, Any], there: Mapping[str, Any]) -> Rows:
    """Return the rows of a swap by log.

    Parameters
    ----------
    on : str
        ISO day.
    here, there : mapping
        Who sat where before: ``service_point``, ``hose_id`` (None without a tag), ``construction``
        and ``part_number`` (None where not known).

    Returns
    -------
    dict
        Log to two rows. Each hose comes out as relocated and goes in at the other place, with
        what it is made like; it keeps its age by its tag.

    Raises
    ------
    InputError
        The day cannot be read, or places or tags are the same.

    Examples
    --------
    >>> seat = {"construction": "C", "part_number": None}
    >>> rows = swap_rows("2024-03-01", seat | {"service_point": "P1", "hose_id": "A"},
    ...                  seat | {"service_point": "P2", "hose_id": None})
    >>> [(row["service_point"], row["hose_id"]) for row in rows["installations"]]
    [('P2', 'A'), ('P1', 'P2 until 2024-03-01')]
    """
    seats = (here, there)
    places = [str(seat["service_point"]) for seat in seats]
    tags = [str(seat["hose_id"] or made_tag(place, on))
            for seat, place in zip(seats, places, strict=True)]
    try:
        swap = Swap.model_validate({"on": on, "places": places, "hoses": tags})
    except ValidationError as exc:
        raise InputError("swap: it takes a day like 2026-02-28, two different places and two "
                         "different hoses. Correct it.") from exc
    out, into = moves([swap])
    made = {str(tag): {name: str(seat[name]) for name in ("construction", "part_number")
                       if seat[name]} for tag, seat in zip(tags, seats, strict=True)}
    return {
        "installations": [{"installed_on": move.on, "service_point": move.service_point,
                           "hose_id": move.hose_id} | made[move.hose_id] for move in into],
        "replacements": [{"removed_on": move.on, "service_point": move.service_point,
                          "hose_id": move.hose_id, "reason": REASON} for move in out]}


def kept_rows(store: Path, entry_id: str) -> Rows:
    """Return what is kept of a swap under this id, by log; sent again, it counts once."""
    return {log: [dict(row) for row in entry.rows] for log in LOGS
            for entry in follow(store, log).entries if entry.entry_id == entry_id}
