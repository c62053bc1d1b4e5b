"""Write small workbooks of the present form."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import xlsxwriter

NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The same workbook has the same bytes whenever it is written."""


@dataclass(frozen=True)
class Styled:
    """A value in a number format; no value leaves a cell that only has a style."""

    value: Any
    num_format: str


def book(rows: Sequence[Sequence[Any]], sheet: str = "Sheet1", first_row: int = 0,
         first_column: int = 0, **options: Any) -> bytes:
    """Return a workbook of one sheet with these rows."""
    return books({sheet: rows}, first_row, first_column, **options)


def books(sheets: dict[str, Sequence[Sequence[Any]]], first_row: int = 0, first_column: int = 0,
          change: Callable[[Any], None] | None = None, **options: Any) -> bytes:
    """Return a workbook of several sheets; `change` is given the open book before it is written."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, **options}) as made:
        made.set_properties({"created": dt.datetime(*NO_TIME)})
        day = made.add_format({"num_format": "yyyy-mm-dd"})
        for name, rows in sheets.items():
            page = made.add_worksheet(name)
            for number, row in enumerate(rows, start=first_row):
                for column, value in enumerate(row, start=first_column):
                    if isinstance(value, Styled):
                        page.write(number, column, value.value,
                                   made.add_format({"num_format": value.num_format}))
                    elif isinstance(value, dt.date):
                        page.write_datetime(number, column, value, day)
                    elif value is not None:
                        page.write(number, column, value)
        if change is not None:
            change(made)
    return out.getvalue()


def rewritten(content: bytes, change: Callable[[str, bytes], tuple[str, bytes]]) -> bytes:
    """Return a workbook with the name and bytes of every part changed."""
    out = io.BytesIO()
    with (zipfile.ZipFile(io.BytesIO(content)) as old,
          zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new):
        for name in old.namelist():
            new_name, data = change(name, old.read(name))
            new.writestr(zipfile.ZipInfo(new_name, NO_TIME), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()
