"""Put right what spreadsheets leave in a table: error marks, empty rows, totals at the end."""

from __future__ import annotations

import re
from itertools import groupby
from operator import itemgetter
from typing import Any, NamedTuple

import duckdb

from etl.load.extract import SHOWN, Correction, Extract
from etl.load.own_export import take_back
from etl.load.quoting import literal

ERROR_MARKS = ("#N/A", "#N/A N/A", "#DIV/0!", "#REF!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!")
TOTAL = re.compile(r"(grand |sub)?totals?|sum( of .*)?", re.IGNORECASE)
"""What the first cell of a row of sums says."""
DIGIT = re.compile("[0-9]")
MOST_BELOW = 40
"""Rows from the end that are looked at."""
NEAR_END = 1000
"""Rows among which these are searched first."""


class Below(NamedTuple):
    """A row that may stand below a table."""

    record: int
    is_total: bool
    is_certain: bool
    text: str


def tidy(con: duckdb.DuckDBPyConnection, extract: Extract, file: str) -> Extract:
    """Empty the cells that hold an error mark, and drop rows without a single cell.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    extract : Extract
        Changed in place: what was put right is added to its corrections.
    file : str
        Name of the file; an exported log gets back what its export had changed.

    Returns
    -------
    Extract
        The same one.
    """
    if extract.may_hold_marks:
        _empty_marks(con, extract)
    take_back(con, extract, file)
    cells = ", ".join(f"c{i}" for i in range(len(extract.header)))
    n_empty = _number(con, f"select count(*) from {extract.table} where coalesce({cells}) is null")
    if n_empty:
        extract.filter = f"coalesce({cells}) is not null"
        extract.n_blank += n_empty
        extract.n_empty = n_empty
    return extract


def rows_below(
    con: duckdb.DuckDBPyConnection, extract: Extract, required: list[str], days: list[str],
) -> tuple[list[int], list[Correction]]:
    """Find what stands below the last row of a table: sums and notes.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    extract : Extract
    required : list of str
        SQL expressions of the required columns that the file fills: a row of sums leaves one of
        them empty, a note nearly all,
    days : list of str
        or, in these of them, puts a title where a day should be.

    Returns
    -------
    list of int
        Record numbers of such rows at the end of the table, in their order.
    list of Correction

    Notes
    -----
    A note fills few cells and no required one, or stands below a blank row (there one cell alone
    says nothing, even where no other one is required); from the first note on, any row with few
    cells that lacks a required one is taken for a note, too. A row higher up is left to be refused.
    """
    cells = [f"c{i}" for i in range(len(extract.header))]
    last = _last_rows(con, extract, ", ".join([*required, *cells]))
    is_day = [name in days for name in required]
    below: list[Below] = []
    most_cells = max(1, len(extract.header) // 3)
    for place, (record, *row) in enumerate(last, start=1):
        asked = list(zip(row[:len(required)], is_day, strict=True))
        is_lacking = any(_is_lacking(text, is_for_day) for text, is_for_day in asked)
        fills_one = not asked or any(
            text is not None and (not is_for_day or _may_be_day(text))
            for text, is_for_day in asked)
        texts = [text for text in row[len(required):] if text]
        is_total = TOTAL.fullmatch(texts[0].strip().rstrip(":")) is not None if texts else False
        is_apart = place < len(last) and record - last[place][0] > 1
        is_lone = is_apart and len(texts) == 1 and len(extract.header) > 2
        if not (is_lacking or is_lone) or not (is_total or len(texts) <= most_cells):
            break
        below.append(Below(record, is_total, is_total or is_apart or not fills_one,
                           " ".join(texts)))
    below.reverse()
    below = below[next((i for i, row in enumerate(below) if row.is_certain), len(below)):]
    corrections = []
    for what, rows in (("rows of totals at the end left out", [r for r in below if r.is_total]),
                       ("notes below the table left out", [r for r in below if not r.is_total])):
        if rows:
            corrections.append(Correction(
                None, what, len(rows), f"row {rows[0].record}: {rows[0].text[:SHOWN]}"))
    return [row.record for row in below], corrections


def _last_rows(con: duckdb.DuckDBPyConnection, extract: Extract,
               columns: str) -> list[tuple[Any, ...]]:
    """Return the last rows, latest first; the whole table is read only where its end is empty."""
    # Rows of a table just made are numbered without a gap.
    last = (max(0, extract.n_rows - 1) if extract.n_rows is not None
            else _number(con, f"select coalesce(max(rowid), 0) from {extract.table}"))
    rows: list[tuple[Any, ...]] = []
    for first in (last - MOST_BELOW + 1, last - NEAR_END, 0):
        rows = con.execute(
            f"select {extract.row_number} as record, {columns} from {extract.table}"
            f" where {extract.filter} and rowid >= {first}"
            + (f" order by record desc limit {MOST_BELOW}" if first < last - MOST_BELOW else "")
        ).fetchall()
        if len(rows) == MOST_BELOW or first <= 0:
            break
    return sorted(rows, reverse=True, key=itemgetter(0))


def _is_lacking(text: str | None, is_for_day: bool) -> bool:
    """Tell whether a cell of a required column is empty, or a title where a day should be."""
    if text is None:
        return True
    is_title = TOTAL.fullmatch(text.strip().rstrip(":")) is not None
    return is_for_day and (is_title or not _may_be_day(text))


def _may_be_day(text: str) -> bool:
    """Tell whether a cell can be a day at all: digits, and at most two words."""
    n_words = sum(is_word for is_word, _ in groupby(text, str.isalpha))
    return DIGIT.search(text) is not None and n_words <= 2


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
