"""Tables for people: CSV and XLSX in which no cell can run as a formula."""

from __future__ import annotations

import csv
import datetime as dt
import decimal
import io
from collections.abc import Iterable, Iterator
from typing import Any, BinaryIO

import xlsxwriter

Batches = Iterable[list[tuple[Any, ...]]]

RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A text cell that begins like this may run as a formula; an apostrophe is set before it."""

CELL_LIMIT = 32_767
"""Characters that a cell of a worksheet holds."""

SHEET_ROWS = 1_048_575
"""Rows that a worksheet holds below its header; longer tables go on in the next sheet."""

OPTIONS = {
    "constant_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "nan_inf_to_errors": False,
}


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet reads as a formula.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("HD-2"), safe_text(" @SUM(A1)")
    ("'=1+1", 'HD-2', "' @SUM(A1)")
    """
    return "'" + text if text.lstrip(" ").startswith(RUNS) else text


def plain(value: Any) -> Any:
    """Return a cell as a number or a safe text; an unknown value is empty."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return safe_text(", ".join(str(item) for item in value))
    if isinstance(value, decimal.Decimal):
        return float(value)
    if isinstance(value, (int, float)):
        return value if value == value and abs(value) != float("inf") else ""
    if isinstance(value, dt.date):
        return value.isoformat()
    return safe_text(str(value))


def csv_lines(names: list[str], batches: Batches) -> Iterator[str]:
    """Yield a CSV file in pieces, with a byte order mark so that spreadsheets read UTF-8."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    buffer.write("\ufeff")
    writer.writerow([safe_text(name) for name in names])
    for batch in batches:
        writer.writerows([plain(value) for value in row] for row in batch)
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
    yield buffer.getvalue()


def write_workbook(handle: BinaryIO, title: str, names: list[str], batches: Batches) -> None:
    """Write an XLSX file: text stays text, dates are dates, long tables take several sheets.

    Parameters
    ----------
    handle : binary file
    title : str
        Name of the sheet; cut to what a workbook allows.
    names : list of str
        Header.
    batches : iterable of list of tuple
        Rows, in pieces.
    """
    with xlsxwriter.Workbook(handle, OPTIONS) as book:
        bold = book.add_format({"bold": True})
        date_format = book.add_format({"num_format": "yyyy-mm-dd"})
        sheet, line = _new_sheet(book, title, 1, names, bold), 0
        for row in (row for batch in batches for row in batch):
            if line % SHEET_ROWS == 0 and line:
                sheet = _new_sheet(book, title, line // SHEET_ROWS + 1, names, bold)
            for place, value in enumerate(row):
                _put(sheet, line % SHEET_ROWS + 1, place, value, date_format)
            line += 1


def _new_sheet(book: Any, title: str, number: int, names: list[str], bold: Any) -> Any:
    """Add a sheet with its header."""
    sheet = book.add_worksheet(title[:31] if number == 1 else f"{title[:27]} {number}")
    sheet.freeze_panes(1, 0)
    sheet.write_row(0, 0, names, bold)
    return sheet


def _put(sheet: Any, line: int, place: int, value: Any, date_format: Any) -> None:
    """Write one cell by its kind, so that nothing is guessed from a text."""
    if isinstance(value, dt.date):
        sheet.write_datetime(line, place, value, date_format)
        return
    cell = plain(value)
    if isinstance(cell, str):
        if cell:
            sheet.write_string(line, place, cell[:CELL_LIMIT])
    else:
        sheet.write_number(line, place, cell)
