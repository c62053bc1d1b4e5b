"""Typed rows of one service point as one text: rows of few places of a large file are read at once.

A table of columns keeps each value of a row in a block of its own, so that the rows of a hundred
service points lie in some thousand blocks. Packed they lie in a hundred, found by an index.
"""

from __future__ import annotations

from collections.abc import Mapping

LISTED = '[{"column_name": "VARCHAR", "value": "VARCHAR", "reason": "VARCHAR"}]'
"""Faults of a row as JSON."""


def pack_statement(logs: Mapping[str, Mapping[str, str]]) -> str:
    """Return the select of one text for each service point: a list of rows for each log.

    Parameters
    ----------
    logs : mapping of str to mapping of str to str
        Name of a table ``clean.<log>_filled`` without its ending -> its columns with their SQL
        types.

    Returns
    -------
    str
        Selects ``point_no`` and ``rows``, in that order. Each value is written as the text that
        its own type reads again without loss.
    """
    parts = "\nunion all\n".join(
        _written(name, at, columns) for at, (name, columns) in enumerate(logs.items()))
    # Joined by hand: a list of lists takes twice the time.
    lists = " || ',' || ".join(
        f"coalesce('[' || string_agg(written, ',') filter (where log = {at}) || ']', '[]')"
        for at in range(len(logs)))
    return (f"select point_no, '[' || {lists} || ']' as rows\nfrom (\n{parts})\n"
            "group by point_no order by point_no")


def _written(name: str, at: int, columns: Mapping[str, str]) -> str:
    """Return the select of the rows of one log as JSON."""
    values = ", ".join(f"to_json({name})::varchar" if kind.endswith("[]") else f"{name}::varchar"
                       for name, kind in columns.items())
    return (f"select point_no, {at} as log, to_json([{values}])::varchar as written\n"
            f"from clean.{name}_filled where point_no is not null")


def unpack_statement(source: str, at: int, columns: Mapping[str, str]) -> str:
    """Return the select of the rows of one log from texts that `pack_statement` wrote.

    Parameters
    ----------
    source : str
        Table of ``rows``.
    at : int
        Place of the log among those that were given to `pack_statement`, from 0.
    columns : mapping of str to str
        Its columns, as they were given.
    """
    values = ", ".join(
        f"from_json(cells[{number}], '{LISTED}') as {name}" if kind.endswith("[]")
        else f"cells[{number}]::{kind} as {name}"
        for number, (name, kind) in enumerate(columns.items(), start=1))
    return (f"select {values} from (select unnest(from_json(rows, '[[[\"VARCHAR\"]]]')[{at + 1}])"
            f" as cells from {source})")
