"""Read a delimited text file record by record, for the files that the fast reader cannot vouch for.

Used where quotes stand inside unquoted cells, where bytes are zero, where a single column leaves
blank records in doubt, and wherever the fast reader's rows do not add up with the records of the
file. The kept records are written again, fully quoted and with their record number in front.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError
from etl.load.extract import SHOWN
from etl.load.header import Header

LONGEST_CELL = 1 << 21
"""Characters; two million, the fast reader's own limit of a record."""
END = "\0end of file\0"
"""Stands after the last line; zero bytes keep it apart from any cell."""


@dataclass
class Recount:
    """Counts of the record-by-record reading."""

    n_records: int = 0
    n_rows: int = 0
    n_blank: int = 0
    n_unreadable: int = 0


class _Lines:
    """Hand lines to the csv reader, remember those of the present record, and mark the end."""

    def __init__(self, lines: Iterator[str]) -> None:
        self.lines = lines
        self.record: list[str] = []

    def __iter__(self) -> Iterator[str]:
        line = "\n"
        for line in self.lines:
            self.record.append(line)
            yield line
        # The reader says nothing when the file ends inside a quoted cell. It then swallows this
        # line, which otherwise comes back as a record of its own.
        self.record.append("" if line.endswith(("\n", "\r")) else "\n")
        self.record.append(END)
        yield END

    def take(self) -> str:
        """Return the text of the record just read and start the next one."""
        text = "".join(self.record)
        self.record = []
        return text


def recount(path: Path, file: str, header: Header, kept: Path, refused: Path) -> Recount:
    """Split a file into rows and refused records, each with its exact record number.

    Parameters
    ----------
    path : Path
        UTF-8 text with newlines.
    file : str
        Name for messages.
    header : Header
        Where the columns are named.
    kept, refused : Path
        Files to write: record number and cells; record number, column, value, reason, remedy.

    Returns
    -------
    Recount
        ``n_records`` = header and what is above it + rows + unreadable + blank.

    Raises
    ------
    InputError
        A quoted cell is never closed.
    """
    previous = csv.field_size_limit(LONGEST_CELL)
    try:
        with (
            path.open("r", encoding="utf-8-sig", newline="") as source,
            kept.open("w", encoding="utf-8", newline="") as out_rows,
            refused.open("w", encoding="utf-8", newline="") as out_faults,
        ):
            rows = csv.writer(out_rows, quoting=csv.QUOTE_ALL, lineterminator="\n")
            faults = csv.writer(out_faults, quoting=csv.QUOTE_ALL, lineterminator="\n")
            count = Recount()
            for number, cells, text in _records(source, file, header.delimiter):
                count.n_records = number
                if number <= header.record:
                    continue
                if not text.strip("\r\n"):
                    count.n_blank += 1
                    continue
                fault = _fault(cells, text, header)
                if fault is None:
                    rows.writerow([number, *(cells or [])[: len(header.names)]])
                    count.n_rows += 1
                else:
                    faults.writerow([number, *fault])
                    count.n_unreadable += 1
            return count
    finally:
        csv.field_size_limit(previous)


def _records(
    source: Iterator[str], file: str, delimiter: str
) -> Iterator[tuple[int, list[str] | None, str]]:
    """Yield number, cells (None where a cell is too long) and text of each record."""
    lines = _Lines(source)
    reader = csv.reader(lines, delimiter=delimiter, skipinitialspace=True)
    number = 0
    while True:
        number += 1
        cells: list[str] | None
        try:
            cells = next(reader)
        except csv.Error as exc:
            cells = None
            if len(lines.record) > 1:
                raise _never_closed(file, number) from exc
        text = lines.take()
        if text.endswith(END):
            if text.strip("\n") != END:
                raise _never_closed(file, number)
            return
        yield number, cells, text


def _never_closed(file: str, number: int) -> InputError:
    """Build the error of a quoted cell without an end."""
    return InputError(
        f"{file} row {number}: a quoted cell opens here and is never closed, so that the rows after"
        " it cannot be told apart. Close or remove the quote in that row."
    )


def _fault(cells: list[str] | None, text: str, header: Header) -> tuple[str, str, str, str] | None:
    """Return column, value, reason and remedy of a record that is no row; None where it is one."""
    shown = _shown(text.rstrip("\r\n"))
    if cells is None:
        size = max(len(cell) for cell in text.split(header.delimiter))
        return "", shown, f"a cell of {size:,} characters", "Shorten the cell."
    n_names = len(header.names)
    if len(cells) < n_names or any(cells[n_names:]):
        less = "fewer" if len(cells) < n_names else "more"
        return "", shown, f"{less} cells than the header names", (
            "Complete the row, or quote the cell that holds the delimiter."
        )
    for name, cell in zip(header.names, cells, strict=False):
        if "\0" in cell:
            return name, _shown(cell), "a zero byte inside the cell", "Retype the cell."
    if '"' in text and not _is_closed(text.rstrip("\r\n"), header.delimiter):
        return "", shown, "text after a closing quote", "Double the quotes inside the cell."
    return None


def _shown(text: str) -> str:
    """Return the beginning of a text as it can be printed."""
    return text[:SHOWN].replace("\0", "\\0")


def _cell_pattern(delimiter: str) -> str:
    """Return the pattern of one cell: closed quotes, or text that does not begin with a quote."""
    mark = re.escape(delimiter)
    return f'(?:[ \\t]*"(?:[^"]|"")*+"[ \\t]*|(?![ \\t]*")[^{mark}\\r\\n]*+)'


def _is_closed(text: str, delimiter: str) -> bool:
    """Say whether every quoted cell of a record ends at its closing quote."""
    cell = _cell_pattern(delimiter)
    return re.fullmatch(f"{cell}(?:{re.escape(delimiter)}{cell})*+", text) is not None
