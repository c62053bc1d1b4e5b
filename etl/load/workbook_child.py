"""Read one sheet of a workbook; runs in a process of its own with a limit on memory.

A small workbook can unpack into more cells than the machine has room for. Here that ends one
short process, and the file is refused; the load goes on. Imports nothing heavy on purpose.
"""

from __future__ import annotations

import csv
import gc
import itertools
import json
import resource
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, TextIO

from etl.errors import InputError
from etl.load.block import write_block
from etl.load.book import Book, Cell, Page, ProtectedError
from etl.load.cell_text import CellTexts, Named
from etl.load.extract import JOINT, Correction, Wanted
from etl.load.header import Header, check_names, find_header, n_looked_at, narrowed, over_rows

ROWS_AT_ONCE = 2_000
"""Rows whose columns are looked at as a whole; few enough to stay in the processor's cache."""
OUT_OF_MEMORY = 3
"""Exit status; any other one without a result means that the workbook broke its reader."""


def main(request_file: str) -> int:
    """Do what the request says; write the result, or the error, beside it."""
    request = json.loads(Path(request_file).read_text(encoding="utf-8"))
    limit = request["limit_bytes"]
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    gc.disable()  # rows hold no circles, and looking for some costs a tenth of the reading
    try:
        result = Sheet(request).read(_open(request["path"], is_old=request["is_old"]))
    except InputError as exc:
        result = {"error": str(exc)}
    except ProtectedError:
        result = {"error": f"{request['file']}: protected by a password. Save it without one."}
    except MemoryError:
        return OUT_OF_MEMORY
    Path(request["result"]).write_text(json.dumps(result), encoding="utf-8")
    return 0


def _open(path: str, *, is_old: bool) -> Book:
    """Open a workbook by the library for its form; the other one is not imported."""
    if is_old:
        from etl.load.book_xls import open_xls

        return open_xls(path)
    from etl.load.book_xlsx import open_xlsx

    return open_xlsx(path)


class Sheet:
    """One sheet on its way from the workbook to a file of numbered rows."""

    def __init__(self, request: dict[str, Any]) -> None:
        """Keep what is wanted; nothing is opened yet."""
        self.request = request
        self.file: str = request["file"]
        self.wanted = Wanted(**{key: frozenset(names) for key, names in request["wanted"].items()})
        self.texts = CellTexts(False)
        self.corrections: list[Correction] = []
        self.n_above = 0
        self.sheets: list[str] = []

    def read(self, book: Book) -> dict[str, Any]:
        """Write the rows and return the account of them."""
        self.texts = CellTexts(book.starts_1904, self.request.get("serial_days_from"))
        page, header = self._choose(book)
        header, n_named = self._gathered(header)
        self.n_above = header.record
        check_names(self.file, header, self.wanted.names)
        self.texts.named = Named.of(header.names, self.wanted)
        self._note_merged(page, header)
        n_errors = page.count_errors()
        if n_errors:
            self._note(None, "error cells such as #N/A read as empty", n_errors)
        with open(self.request["kept"], "w", encoding="utf-8", newline="") as out:
            n_records, n_blank = self._write(page, header, n_named, out)
        return {
            "sheets": self.sheets, "header": header.names, "record": header.record,
            "n_records": n_records, "n_blank": n_blank, "corrections": [
                [item.column_name, item.what, item.n_cells, item.example]
                for item in (*self.corrections, *self.texts.counted())],
        }

    def _write(self, page: Page, header: Header, n_named: int, out: TextIO) -> tuple[int, int]:
        """Write the rows below the header; return how many rows there are, and how many blank."""
        writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n")
        counts = Counter(header.names)
        is_named = [bool(name) and counts[name] == 1 for name in header.names]
        plain = [name not in self.texts.named.numbers for name in header.names]
        rows = iter(self._filled_down(page))
        n_records = sum(1 for _ in itertools.islice(rows, header.record))
        n_blank = 0
        while block := list(itertools.islice(rows, ROWS_AT_ONCE)):
            numbers = range(n_records + 1, n_records + 1 + len(block))
            n_records += len(block)
            columns = None
            if {n_named, *map(len, block)} == {len(plain)}:
                columns = self._by_columns(header, block, plain, is_named)
            texts: Iterable[Sequence[str]]
            if columns is None:
                texts = (self._row(header, cells, plain, n_named) for cells in block)
            else:
                texts = zip(*columns, strict=True)
                if any("" not in column for column in columns):
                    write_block(out, writer, [list(map(str, numbers)), *columns])
                    continue
            for number, row in zip(numbers, texts, strict=True):
                if any(row):
                    writer.writerow([number, *row])
                else:
                    n_blank += 1
        return n_records, n_blank

    def _by_columns(self, header: Header, block: list[list[Cell]], plain: list[bool],
                    is_named: list[bool]) -> list[Sequence[Any]] | None:
        """Return the texts of a block's columns; None where rows must be taken one by one.

        Most columns hold texts that need no remark and pass untouched. What is put right is told
        with its first example: columns without a name of their own would mix theirs.
        """
        columns: list[Sequence[Any]] = list(zip(*block, strict=True))
        unlike = [place for place, column in enumerate(columns)
                  if not plain[place] or set(map(type, column)) != {str}]
        if not all(is_named[place] for place in unlike):
            return None
        for place in unlike:
            columns[place] = [self.texts.text(header.names[place], cell) for cell in columns[place]]
        return columns

    def _row(self, header: Header, cells: list[Cell], plain: list[bool],
             n_named: int) -> list[str]:
        """Return the texts of one row."""
        texts = [cell if is_plain and type(cell) is str else self.texts.text(name, cell)
                 for is_plain, name, cell in zip(plain, header.names, cells, strict=False)]
        if len(cells) > n_named:
            texts[n_named:] = [self._joined(cells[n_named:])]
        return texts

    def _choose(self, book: Book) -> tuple[Page, Header]:
        """Take the declared sheet, else the visible one whose header has most wanted names."""
        declared, row = self.request["sheet"], self.request["header_row"]
        if declared is not None and declared not in book.names:
            raise InputError(
                f"{self.file}: there is no sheet {declared!r}, only {', '.join(book.names)}."
                " Correct sheet in its [[file]] entry."
            )
        best: tuple[tuple[int, int], Page, Header] | None = None
        for name in [declared] if declared is not None else book.visible:
            page = book.page(name)
            head = [[self.texts.text("", cell) for cell in cells]
                    for cells in itertools.islice(self._filled_down(page), n_looked_at(row))]
            header = find_header(head, self.wanted, row)
            if header is not None:
                header = over_rows(head, header, self.wanted, [
                    ((top, first - page.left), (bottom, last - page.left))
                    for (top, first), (bottom, last) in page.merged])
                score = self.wanted.fit(header.names)
                if best is None or score > best[0]:
                    best = score, page, header
        if best is None:
            raise InputError(
                f"{self.file}: no sheet with column names found"
                + (f" in row {row}. Correct header_row." if row else ". Add a header row."))
        self.texts.counts.clear()
        others = [name for name in book.visible if name != best[1].name]
        self.sheets = [best[1].name, *others]
        if declared is None and others:
            self._note(None, "sheets not read", len(others), ", ".join(others))
        return best[1], best[2]

    def _gathered(self, header: Header) -> tuple[Header, int]:
        """Make one column of all those to the right of the last name: strays reach far out."""
        n_named = max((i for i, name in enumerate(header.names, start=1) if name), default=0)
        named = Header(header.record, header.names[:n_named])
        narrowed(self.file, named)
        if n_named == len(header.names):
            return named, n_named
        return Header(header.record, (*named.names, "")), n_named

    def _joined(self, cells: list[Cell]) -> str:
        """Return the texts of the cells to the right of the last name as one."""
        texts = (self.texts.text("", cell) for cell in cells if cell != "")
        return JOINT.join(filter(str.strip, texts))

    def _filled_down(self, page: Page) -> Iterable[list[Cell]]:
        """Return the rows; a cell merged over several rows stands in each of them."""
        spans: dict[int, list[tuple[int, int]]] = {}
        for (top, column), (bottom, _) in page.merged:
            if bottom > top and column >= page.left:
                spans.setdefault(top, []).append((column - page.left, bottom))
        return self._repeated(page.rows(), spans) if spans else page.rows()

    def _repeated(self, rows: Iterator[list[Cell]],
                  spans: dict[int, list[tuple[int, int]]]) -> Iterator[list[Cell]]:
        """Yield the rows with the merged cells that began above put in again."""
        active: dict[int, tuple[int, Cell]] = {}
        for number, cells in enumerate(rows):
            is_blank = not any(cell != "" for cell in cells)
            for column, (bottom, value) in list(active.items()):
                if number > bottom:
                    del active[column]
                elif column < len(cells) and cells[column] == "" and not is_blank:
                    cells[column] = value
                    if number >= self.n_above:
                        self.texts.count(
                            "", "cells merged over several rows: repeated in each", str(value))
            for column, bottom in spans.get(number, ()):
                if column < len(cells) and cells[column] != "":
                    active[column] = bottom, cells[column]
            yield cells

    def _note(self, name: str | None, what: str, n_cells: int, example: str | None = None) -> None:
        """Note one correction of the whole sheet."""
        self.corrections.append(Correction(name, what, n_cells, example))

    def _note_merged(self, page: Page, header: Header) -> None:
        """Report columns left without a name because header cells were merged."""
        row = header.record - 1
        for first, last in page.merged:
            position = first[1] - page.left
            if first[0] <= row <= last[0] and last[1] > first[1] and position >= 0:
                name = header.names[position] if position < len(header.names) else ""
                self._note(name, "merged header cells: the columns to the right have no name",
                           last[1] - first[1])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
