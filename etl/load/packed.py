"""Typed rows of one service point as one text: rows of few places of a large file are read at once.

A table of columns keeps each value of a row in a block of its own, so that the rows of a hundred
service points lie in some thousand blocks. Packed they lie in a hundred, found by an index.
"""

from __future__ import annotations

LISTED = '[{"column_name": "VARCHAR", "value": "VARCHAR", "reason": "VARCHAR"}]'
"""Faults of a row as JSON."""


def pack_statement(source: str, columns: dict[str, str]) -> str:
    """Return the select of one text for each service point.

    Parameters
    ----------
    source : str
        Table of typed rows.
    columns : dict of str to str
        Its columns with their SQL types.

    Returns
    -------
    str
        Selects ``point_no`` and ``rows``, in no order. Each value is written as the text that its
        own type reads again without loss.
    """
    values = ", ".join(f"to_json({name})::varchar" if kind.endswith("[]") else f"{name}::varchar"
                       for name, kind in columns.items())
    # Joined by hand: a list of lists takes twice the time.
    joined = f"'[' || string_agg(to_json([{values}])::varchar, ',') || ']'"
    return (f"select point_no, {joined} as rows\n"
            f"from {source} where point_no is not null group by point_no order by point_no")


def unpack_statement(source: str, columns: dict[str, str], condition: str) -> str:
    """Return the select of the rows that `pack_statement` packed, of some service points.

    Parameters
    ----------
    source : str
        Table of ``point_no`` and ``rows``.
    columns : dict of str to str
        As given to `pack_statement`.
    condition : str
        Which service points.
    """
    values = ", ".join(
        f"from_json(cells[{at}], '{LISTED}') as {name}" if kind.endswith("[]")
        else f"cells[{at}]::{kind} as {name}"
        for at, (name, kind) in enumerate(columns.items(), start=1))
    return (f"select {values} from (select unnest(from_json(rows, '[[\"VARCHAR\"]]')) as cells\n"
            f"from {source} where {condition})")
