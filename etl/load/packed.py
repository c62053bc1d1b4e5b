"""Typed rows of one service point as one text: rows of few places of a large file are read at once.

A table of columns keeps each value of a row in a block of its own, so that the rows of a hundred
service points lie in some thousand blocks. Packed they lie in a hundred, found by an index: the
rows that the logs have of one place stand side by side.
"""

from __future__ import annotations

from collections.abc import Mapping

LISTED = '[{"column_name": "VARCHAR", "value": "VARCHAR", "reason": "VARCHAR"}]'
"""Faults of a row as JSON."""


def pack_statement(logs: Mapping[str, Mapping[str, str]]) -> str:
    """Return the select of one text for each service point and log that has rows of it.

    Parameters
    ----------
    logs : mapping of str to mapping of str to str
        Name of a table ``clean.<log>_filled`` without its ending -> its columns with their SQL
        types.

    Returns
    -------
    str
        Selects ``place_log`` (of `place_of`) and ``rows``, in their order. Each value is written
        as the text that its own type reads again without loss.
    """
    parts = [_packed(name, place, len(logs), columns)
             for place, (name, columns) in enumerate(logs.items())]
    return "\nunion all\n".join(parts) + "\norder by place_log"


def place_of(place: int, n_logs: int) -> str:
    """Return SQL for the number under which rows of a log stand, from their ``point_no``.

    Parameters
    ----------
    place : int
        Of the log among those that are packed, from 0.
    n_logs : int
        How many are packed.
    """
    return f"point_no::bigint * {n_logs} + {place}"


def _packed(name: str, place: int, n_logs: int, columns: Mapping[str, str]) -> str:
    """Return the select of the rows of one log."""
    values = ", ".join(f"to_json({name})::varchar" if kind.endswith("[]") else f"{name}::varchar"
                       for name, kind in columns.items())
    # Joined by hand: a list of lists takes twice the time.
    joined = f"'[' || string_agg(to_json([{values}])::varchar, ',') || ']'"
    return (f"select {place_of(place, n_logs)} as place_log, {joined} as rows\n"
            f"from clean.{name}_filled where point_no is not null group by point_no")


def unpack_statement(source: str, columns: Mapping[str, str], condition: str) -> str:
    """Return the select of the rows that `pack_statement` packed, of one log at some places.

    Parameters
    ----------
    source : str
        Table of ``place_log`` and ``rows``.
    columns : mapping of str to str
        Of that log, as given to `pack_statement`.
    condition : str
        Which ``place_log``.
    """
    values = ", ".join(
        f"from_json(cells[{at}], '{LISTED}') as {name}" if kind.endswith("[]")
        else f"cells[{at}]::{kind} as {name}"
        for at, (name, kind) in enumerate(columns.items(), start=1))
    return (f"select {values} from (select unnest(from_json(rows, '[[\"VARCHAR\"]]')) as cells\n"
            f"from {source} where {condition})")
