"""Read one sheet of a workbook; runs in a process of its own with a limit on memory.

A small workbook can unpack into more cells than the machine has room for. Here that ends one
short process, and the file is refused; the load goes on. Imports nothing heavy on purpose.
"""

from __future__ import annotations

import csv
import datetime as dt
import itertools
import json
import re
import resource
import sys
import zipfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import python_calamine as calamine

from etl.errors import InputError
from etl.load.extract import Correction, Wanted, folded
from etl.load.header import RECORDS_LOOKED_AT, Header, check_names, find_header

EPOCHS = {False: dt.date(1899, 12, 30), True: dt.date(1904, 1, 1)}
"""Day 0 of the two calendars of workbooks, right from 1 March 1900 on."""
SERIALS = (10_000, 100_000)
"""Numbers that can be days: 1927 to 2173. 20240131 is not one of them."""
DIGITS_KEPT = 1e15
"""A workbook keeps 15 digits; a longer number has lost its last ones."""
NAMESPACE = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}
RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
NUMERIC = re.compile(r"\s*[-+]?\d[\d.,]*\s*")
Cell = Any


def main(request_file: str) -> None:
    """Do what the request says; write the result, or the error, beside it."""
    request = json.loads(Path(request_file).read_text(encoding="utf-8"))
    limit = request["limit_bytes"]
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    try:
        result = Sheet(request).read()
    except InputError as exc:
        result = {"error": str(exc)}
    except calamine.PasswordError:
        result = {"error": f"{request['file']}: protected by a password. Save it without one."}
    except (calamine.CalamineError, zipfile.BadZipFile, ET.ParseError, KeyError) as exc:
        result = {"error": f"{request['file']}: the workbook is damaged ({exc}). Save it again."}
    Path(request["result"]).write_text(json.dumps(result), encoding="utf-8")


class Sheet:
    """One sheet on its way from the workbook to a file of numbered rows."""

    def __init__(self, request: dict[str, Any]) -> None:
        """Keep what is wanted; nothing is opened yet."""
        self.request = request
        self.file: str = request["file"]
        self.wanted = Wanted(*(frozenset(request[key]) for key in ("names", "dates", "numbers")))
        self.counts: Counter[tuple[str, str]] = Counter()
        self.examples: dict[tuple[str, str], str] = {}
        self.corrections: list[Correction] = []
        self.starts_1904 = False
        self.dates: frozenset[str] = frozenset()
        self.numbers: frozenset[str] = frozenset()

    def read(self) -> dict[str, Any]:
        """Write the rows and return the account of them."""
        book = calamine.CalamineWorkbook.from_path(self.request["path"])
        self._read_flags()
        sheet, header = self._choose(book)
        check_names(self.file, header, self.wanted.names)
        self.dates, self.numbers = (
            frozenset(name for name in header.names if folded(name) in wanted)
            for wanted in (self.wanted.dates, self.wanted.numbers)
        )
        self._note_merged(sheet, header)
        self._note_errors(sheet.name)
        n_records = n_blank = 0
        # Most cells are texts in a column where texts need no remark: those pass untouched.
        plain = [name not in self.numbers for name in header.names]
        with open(self.request["kept"], "w", encoding="utf-8", newline="") as out:
            rows = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n")
            for n_records, cells in enumerate(sheet.iter_rows(), start=1):
                if n_records <= header.record:
                    continue
                texts = [cell if is_plain and type(cell) is str else self._text(name, cell)
                         for is_plain, name, cell in zip(plain, header.names, cells, strict=False)]
                if any(texts):
                    rows.writerow([n_records, *texts])
                else:
                    n_blank += 1
        return {
            "header": header.names, "record": header.record, "n_records": n_records,
            "n_blank": n_blank, "corrections": [
                [item.column_name, item.what, item.n_cells, item.example]
                for item in (*self.corrections, *self._counted())],
        }

    def _choose(self, book: calamine.CalamineWorkbook) -> tuple[calamine.CalamineSheet, Header]:
        """Take the declared sheet, else the visible one whose header has most wanted names."""
        names = [item.name for item in book.sheets_metadata
                 if item.visible == calamine.SheetVisibleEnum.Visible]
        declared = self.request["sheet"]
        if declared is not None and declared not in book.sheet_names:
            raise InputError(
                f"{self.file}: there is no sheet {declared!r}, only {', '.join(book.sheet_names)}."
                " Correct sheet in its [[file]] entry."
            )
        best: tuple[int, calamine.CalamineSheet, Header] | None = None
        for name in [declared] if declared is not None else names:
            sheet = book.get_sheet_by_name(name)
            head = [[self._text("", cell) for cell in row]
                    for row in itertools.islice(sheet.iter_rows(), 2 * RECORDS_LOOKED_AT)]
            header = find_header(head, self.wanted, self.request["header_row"])
            if header is not None:
                score = len({folded(text) for text in header.names} & self.wanted.names)
                if best is None or score > best[0]:
                    best = score, sheet, header
        if best is None:
            raise InputError(f"{self.file}: no sheet with column names found. Add a header row.")
        self.counts.clear()
        others = [name for name in names if name != best[1].name]
        if declared is None and others:
            self._note(None, "sheets not read", len(others), ", ".join(others))
        return best[1], best[2]

    def _text(self, name: str, cell: Cell) -> str:
        """Return the text of a cell; days in ISO form, whole numbers without a point."""
        if isinstance(cell, str):
            if name in self.numbers and NUMERIC.fullmatch(cell):
                self._count(name, "numbers stored as text, read as numbers", cell)
            return cell
        if isinstance(cell, bool):
            return "yes" if cell else "no"
        if isinstance(cell, (int, float)):
            return self._number(name, float(cell))
        if isinstance(cell, dt.datetime):
            midnight = cell.time() == dt.time()
            return cell.date().isoformat() if midnight else cell.isoformat(" ", "seconds")
        return str(cell)

    def _number(self, name: str, number: float) -> str:
        """Return a number as text; in a column of dates a plain serial number is a day."""
        if name in self.dates and SERIALS[0] <= number < SERIALS[1]:
            day = EPOCHS[self.starts_1904] + dt.timedelta(days=int(number))
            start = 1904 if self.starts_1904 else 1900
            self._count(name, f"serial numbers read as days (calendar from {start})",
                        f"{number:g} = {day.isoformat()}")
            return day.isoformat()
        if not number.is_integer():
            return repr(number)
        if abs(number) >= DIGITS_KEPT:
            self._count(name, "numbers of more than 15 digits: the last digits were lost"
                        " in the workbook", str(int(number)))
        return str(int(number))

    def _count(self, name: str, what: str, example: str) -> None:
        """Count one corrected cell."""
        self.counts[name, what] += 1
        self.examples.setdefault((name, what), example)

    def _counted(self) -> Iterator[Correction]:
        """Yield the counted corrections in a fixed order."""
        for (name, what), n_cells in sorted(self.counts.items()):
            yield Correction(name, what, n_cells, self.examples[name, what])

    def _note(self, name: str | None, what: str, n_cells: int, example: str | None = None) -> None:
        """Note one correction of the whole sheet."""
        self.corrections.append(Correction(name, what, n_cells, example))

    def _read_flags(self) -> None:
        """Read which calendar the workbook counts its days by."""
        with zipfile.ZipFile(self.request["path"]) as book:
            root = ET.fromstring(book.read("xl/workbook.xml"))
        flags = root.find("m:workbookPr", NAMESPACE)
        self.starts_1904 = flags is not None and flags.get("date1904") in ("1", "true")

    def _note_merged(self, sheet: calamine.CalamineSheet, header: Header) -> None:
        """Report columns left without a name because header cells were merged."""
        row = header.record - 1
        left = sheet.start[1] if sheet.start else 0
        for first, last in sheet.merged_cell_ranges or []:
            if first[0] <= row <= last[0] and last[1] > first[1] and first[1] >= left:
                name = header.names[first[1] - left] if first[1] - left < len(header.names) else ""
                self._note(name, "merged header cells: the columns to the right have no name",
                           last[1] - first[1])

    def _note_errors(self, name: str) -> None:
        """Count the cells that hold an error; they are read as empty."""
        with zipfile.ZipFile(self.request["path"]) as book:
            root = ET.fromstring(book.read("xl/workbook.xml"))
            links = ET.fromstring(book.read("xl/_rels/workbook.xml.rels"))
            target = {link.get("Id"): link.get("Target", "") for link in links}
            ids = [item.get(RELATION) for item in root.iterfind("m:sheets/m:sheet", NAMESPACE)
                   if item.get("name") == name]
            part = target.get(ids[0], "") if ids else ""
            part = part.lstrip("/") if part.startswith("/") else f"xl/{part}"
            n_errors = 0
            with book.open(part) as xml:
                rest = b""
                while block := xml.read(1 << 20):
                    n_errors += (rest + block).count(b't="e"')
                    rest = block[-4:]
        if n_errors:
            self._note(None, "error cells such as #N/A read as empty", n_errors)


if __name__ == "__main__":
    main(sys.argv[1])
