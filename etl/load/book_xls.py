"""Open a workbook of the old binary form."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator

import xlrd

from etl.load.book import Book, Cell, Page, ProtectedError, Shown, ShownFormat, shown_format

VISIBLE = 0
PROTECTED = ("encrypted", "Can't find workbook")
"""What the library says of a protected workbook: of the old form, or of the present one inside."""


def open_xls(path: str) -> Book:
    """Open a workbook and read all its sheets.

    Parameters
    ----------
    path : str

    Returns
    -------
    Book

    Raises
    ------
    ProtectedError
        It is protected by a password.
    xlrd.XLRDError, or nearly any other error
        It is damaged: the library trusts what the file says of itself.
    """
    try:
        with open(os.devnull, "w", encoding="utf-8") as nowhere:
            book = xlrd.open_workbook(path, logfile=nowhere, formatting_info=True, ragged_rows=True)
    except xlrd.XLRDError as exc:
        if any(mark in str(exc) for mark in PROTECTED):
            raise ProtectedError from exc
        raise
    shown = {
        number: found for number, style in enumerate(book.xf_list)
        if style.format_key in book.format_map
        and (found := shown_format(book.format_map[style.format_key].format_str)) is not None
    }
    return Book(
        book.sheet_names(),
        [sheet.name for sheet in book.sheets() if sheet.visibility == VISIBLE],
        book.datemode == 1, lambda name: _page(book, name, shown),
    )


def _page(book: xlrd.Book, name: str, shown: dict[int, ShownFormat]) -> Page:
    """Return one sheet."""
    sheet = book.sheet_by_name(name)
    merged = [((top, left), (bottom - 1, right - 1))
              for top, bottom, left, right in sheet.merged_cells]

    def rows() -> Iterator[list[Cell]]:
        for row in range(sheet.nrows):
            cells = [_value(cell, book.datemode, shown) for cell in sheet.row(row)]
            yield cells + [""] * (sheet.ncols - len(cells))

    def count_errors() -> int:
        return sum(kind == xlrd.XL_CELL_ERROR
                   for row in range(sheet.nrows) for kind in sheet.row_types(row))

    return Page(name, 0, rows, merged, count_errors)


def _value(cell: xlrd.sheet.Cell, datemode: int, shown: dict[int, ShownFormat]) -> Cell:
    """Return the value of a cell; an error is empty."""
    value = cell.value
    if cell.ctype in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK, xlrd.XL_CELL_ERROR):
        return ""
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return bool(value)
    if cell.ctype == xlrd.XL_CELL_DATE:
        return _moment(value, datemode)
    found = shown.get(cell.xf_index) if cell.ctype == xlrd.XL_CELL_NUMBER else None
    text = found.text(value) if found else None
    return value if text is None else Shown(value, text)


def _moment(value: float, datemode: int) -> Cell:
    """Return a day, with its time where it has one; a number that is no day stays one."""
    if 0 <= value < 1:
        seconds = round(value * 86_400) % 86_400
        return dt.time(seconds // 3600, seconds // 60 % 60, seconds % 60)
    try:
        return xlrd.xldate.xldate_as_datetime(value, datemode)
    except (OverflowError, ValueError):
        return value
