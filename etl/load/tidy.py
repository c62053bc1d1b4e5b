"""Put right what spreadsheets leave in a table: error marks, empty rows, totals at the end."""

from __future__ import annotations

import re

import duckdb

from etl.load.extract import Correction, Extract
from etl.load.plan import literal

ERROR_MARKS = ("#N/A", "#N/A N/A", "#DIV/0!", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!")
TOTAL = re.compile(r"(grand |sub)?totals?|sum( of .*)?", re.IGNORECASE)
"""What the first cell of a row of sums says."""


def tidy(con: duckdb.DuckDBPyConnection, extract: Extract) -> Extract:
    """Empty the cells that hold an error mark, and drop rows without a single cell.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    extract : Extract
        Changed in place: what was put right is added to its corrections.

    Returns
    -------
    Extract
        The same one.
    """
    if extract.may_hold_marks:
        _empty_marks(con, extract)
    cells = ", ".join(f"c{i}" for i in range(len(extract.header)))
    n_empty = _number(con, f"select count(*) from {extract.table} where coalesce({cells}) is null")
    if n_empty:
        extract.filter = f"coalesce({cells}) is not null"
        extract.n_blank += n_empty
    return extract


def total_rows(
    con: duckdb.DuckDBPyConnection, extract: Extract, required: list[str], days: list[str],
) -> tuple[list[int], list[Correction]]:
    """Find sums below the last row of a table.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    extract : Extract
    required : list of str
        SQL expressions of the required columns: a row of sums leaves one of them empty,
    days : list of str
        or puts its title where a day should be.

    Returns
    -------
    list of int
        Record numbers of at most three such rows at the end of the table.
    list of Correction
    """
    cells = ", ".join(f"c{i}" for i in range(len(extract.header)))
    title = literal(f"^\\s*({TOTAL.pattern}):?\\s*$")
    lacks = " or ".join([f"{expression} is null" for expression in required]
                        + [f"regexp_matches({day}, {title}, 'i')" for day in days])
    last = con.execute(
        f"select {extract.row_number} as record, coalesce({lacks}, false) as lacks, {cells}"
        f" from {extract.table} where {extract.filter} order by record desc limit 3"
    ).fetchall()
    found = []
    for record, is_lacking, *texts in last:
        first = next((text for text in texts if text), "")
        if not is_lacking or not TOTAL.fullmatch(first.strip().rstrip(":")):
            break
        found.append(record)
    what = "rows of totals at the end left out"
    return found, [Correction(None, what, len(found), f"row {min(found)}")] if found else []


def _empty_marks(con: duckdb.DuckDBPyConnection, extract: Extract) -> None:
    """Turn error marks into empty cells, counted by column."""
    marks = ", ".join(literal(mark) for mark in ERROR_MARKS)
    for position, name in enumerate(extract.header):
        condition = f"c{position} in ({marks})"
        n_cells = _number(con, f"select count(*) from {extract.table} where {condition}")
        if n_cells:
            example = con.execute(
                f"select min(c{position}) from {extract.table} where {condition}").fetchone()
            con.execute(f"update {extract.table} set c{position} = null where {condition}")
            extract.corrections.append(Correction(
                name or f"column {position + 1}", "error marks of a spreadsheet read as empty",
                n_cells, example[0] if example else None))


def _number(con: duckdb.DuckDBPyConnection, query: str) -> int:
    """Return the single number of a query."""
    row = con.execute(query).fetchone()
    return int(row[0]) if row else 0
