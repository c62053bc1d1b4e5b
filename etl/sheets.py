"""Tables for people: CSV and XLSX in which no cell can run as a formula."""

from __future__ import annotations

import datetime as dt
import decimal
import math
import os
import re
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

import xlsxwriter
from xlsxwriter.exceptions import FileCreateError

Batches = Iterable[list[tuple[Any, ...]]]

RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A text cell that begins like this may run as a formula; an apostrophe is set before it."""

RUNS_INSIDE = re.compile("([;\t\r\n])(?=[ '\"]*[=+@\uff1d\uff0b\uff0d\uff20-])")
"""Where commas are decimal, spreadsheets split a CSV at semicolons, and then know no quotes in the
midst of a cell: what stands behind such a sign may run as well and gets its own apostrophe."""

GUARDED = "^'([ ']*[=+@\t\r\n\uff1d\uff0b\uff0d\uff20-])"
GUARDED_INSIDE = "([;\t\r\n])'([ '\"]*[=+@\uff1d\uff0b\uff0d\uff20-])"
"""Where these apostrophes stand, without look-ahead; the groups are what was there before."""

CELL_LIMIT = 32_767
"""Characters that a cell of a worksheet holds; a longer text ends in an ellipsis there."""
CUT = CELL_LIMIT - 1

FIRST_YEAR = 1901
"""Worksheets know no date before 1900 and miscount the first days of that year."""

NEEDS_QUOTES = re.compile(r'[",\r\n]')

NARROW, WIDE = 11, 60
"""Width of a column in characters; sentences get the wide one."""
LONG = {"reason", "why", "next_step_reason", "effect", "words", "method", "doubt", "value",
        "remedy", "detail"}

SHEET_ROWS = 1_048_575
"""Rows that a worksheet holds below its header; longer tables go on in the next sheet."""

A4 = 9
"""Its number among the paper sizes of a worksheet."""

SHOWN = "[>=100]#,##0;[>=1]0.0#;0.0##"
"""How a measured number is shown; the cell keeps every digit."""

OPTIONS = {
    "constant_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "nan_inf_to_errors": False,
}


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet reads as a formula; taking one apostrophe off undoes it.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("HD-2"), safe_text(" @SUM(A1)"), safe_text("'=1")
    ("'=1+1", 'HD-2', "' @SUM(A1)", "''=1")
    """
    return "'" + text if text.lstrip(" '").startswith(RUNS) else text


def plain(value: Any) -> Any:
    """Return a cell as a number or a safe text, None where nothing is known."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return safe_text(", ".join(str(item) for item in value))
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (int, decimal.Decimal)):
        return value
    if isinstance(value, dt.date):
        return value.isoformat()
    return safe_text(str(value))


def csv_lines(names: list[str], batches: Batches) -> Iterator[str]:
    """Yield a CSV file in pieces, with a byte order mark so that spreadsheets read UTF-8.

    An unknown value is nothing between two commas; an empty text is ``""``.
    """
    yield "\ufeff" + _csv_line(names)
    for batch in batches:
        yield "".join(_csv_line(row) for row in batch)


def _csv_line(row: Iterable[Any]) -> str:
    """Return a row as CSV."""
    return ",".join([_csv_cell(value) for value in row]) + "\r\n"


def _csv_cell(value: Any) -> str:
    """Return a cell as CSV, in quotation marks where it has to be."""
    cell = plain(value)
    if not isinstance(cell, str):
        return "" if cell is None else str(cell)
    cell = RUNS_INSIDE.sub(r"\1'", cell)
    if cell and not NEEDS_QUOTES.search(cell):
        return cell
    return '"' + cell.replace('"', '""') + '"'


@dataclass(frozen=True)
class Sheet:
    """One table of a workbook: its name, its header and its rows in pieces."""

    title: str
    names: list[str]
    batches: Batches
    cut: Counter[str] = field(default_factory=Counter)
    """Told how many texts of which column were too long for a cell, while the table is written."""


def book(sheets: Iterable[Sheet]) -> BinaryIO:
    """Return an XLSX file of several tables, open for reading and without a name on the disk.

    Text stays text, dates are dates, long tables take several sheets. Rows are read once and none
    is kept: memory does not grow with them.

    Raises
    ------
    OSError
        There is no room for the temporary files.
    """
    handle, name = tempfile.mkstemp(suffix=".xlsx")
    os.close(handle)
    path = Path(name)
    try:
        with xlsxwriter.Workbook(path, OPTIONS) as made:
            for sheet in sheets:
                _fill(made, sheet)
        return path.open("rb")
    except FileCreateError as exc:
        raise OSError(str(exc)) from exc
    finally:
        path.unlink()


@dataclass(frozen=True)
class _Looks:
    """Formats of a workbook: header, day, measured number, short and long text."""

    bold: Any
    day: Any
    measured: Any
    short: Any
    long: Any


def _fill(made: Any, table: Sheet) -> None:
    """Write one table, over as many sheets as it needs."""
    looks = _Looks(*(made.add_format({"valign": "top"} | own) for own in (
        {"bold": True}, {"num_format": "yyyy-mm-dd"}, {"num_format": SHOWN}, {},
        {"text_wrap": True})))
    texts = [looks.long if name in LONG else looks.short for name in table.names]
    sheet, line = _new_sheet(made, table.title, 1, table.names, looks.bold), 0
    for row in (row for batch in table.batches for row in batch):
        if line % SHEET_ROWS == 0 and line:
            sheet = _new_sheet(made, table.title, line // SHEET_ROWS + 1, table.names,
                               looks.bold)
        for place, value in enumerate(row):
            if _put(sheet, line % SHEET_ROWS + 1, place, value, looks, texts[place]):
                table.cut[table.names[place]] += 1
        line += 1


def _new_sheet(book: Any, title: str, number: int, names: list[str], bold: Any) -> Any:
    """Add a sheet with its header."""
    sheet = book.add_worksheet(title[:31] if number == 1 else f"{title[:27]} {number}")
    sheet.freeze_panes(1, 0)
    sheet.set_paper(A4)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)  # on paper one sheet wide, the header on each
    sheet.repeat_rows(0)
    for place, name in enumerate(names):
        sheet.set_column(place, place, WIDE if name in LONG else max(NARROW, len(name) + 2))
    sheet.write_row(0, 0, names, bold)
    return sheet


def _put(sheet: Any, line: int, place: int, value: Any, looks: _Looks, text: Any) -> bool:
    """Write one cell by its kind, so that nothing is guessed from a text; True if it was cut."""
    if isinstance(value, dt.date) and value.year >= FIRST_YEAR:
        sheet.write_datetime(line, place, value, looks.day)
        return False
    cell = plain(value)
    if isinstance(cell, str):
        sheet.write_string(line, place, cell if len(cell) <= CELL_LIMIT else cell[:CUT] + "…", text)
    elif isinstance(cell, int):
        sheet.write_number(line, place, cell, looks.short)
    elif cell is not None:
        sheet.write_number(line, place, float(cell), looks.measured)
    return isinstance(cell, str) and len(cell) > CELL_LIMIT
