"""From the cells of a workbook to texts, and what has to be told of them.

A tag that a spreadsheet turned into a day, a time or a number has lost how it was written; its
text is then the best that is left, and each such column is told. Imports nothing heavy on purpose.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from etl.load.book import Cell, Shown
from etl.load.extract import Correction, Wanted, folded

EPOCHS = {1900: dt.date(1899, 12, 30), 1904: dt.date(1904, 1, 1)}
"""Day 0 of the two calendars of workbooks, right from 1 March 1900 on."""
SERIALS = (10_000, 100_000)
"""Numbers that can be days: 1927 to 2173. 20240131 is not one of them."""
SMALL = 0.0005 / 86_400
"""Half a thousandth of a second in days: sums of fractions come that little early, while programs
write the end of a day as 23:59:59.997 or .999."""
DIGITS_KEPT = 1e15
"""A workbook keeps 15 digits; a longer number has lost its last ones."""
NUMERIC = re.compile(r"\s*[-+]?\d[\d.,]*\s*")
HALF_A_SECOND = dt.timedelta(microseconds=500_000)

DAYS = ("days where a text is meant, read as text: a spreadsheet or an import may have made them"
        " of tags such as 3-1")
TIMES = ("times where a text is meant, read as text: a spreadsheet or an import may have made them"
         " of tags such as 1:30")
TRUTHS = "true or false where a text is meant, read as text"
DECIMALS = "tags stored as numbers with decimals: zeros at their end are lost, as in 1.10"
LOST_DIGITS = "numbers of more than 15 digits: the last digits were lost in the workbook"
NO_CALENDAR = ("numbers without a date format in a workbook whose calendar starts in 1904, not"
               " read as days: declare serial_days_from")


class Named(NamedTuple):
    """Columns of a sheet by what they should hold."""

    dates: frozenset[str] = frozenset()
    numbers: frozenset[str] = frozenset()
    tags: frozenset[str] = frozenset()
    texts: frozenset[str] = frozenset()

    @classmethod
    def of(cls, header: Iterable[str], wanted: Wanted) -> Named:
        """Find what is wanted among the names of a header."""
        names = tuple(header)
        found = [frozenset(name for name in names if folded(name) in of_kind)
                 for of_kind in (wanted.dates, wanted.numbers, wanted.tags, wanted.texts)]
        return cls(*found)


class CellTexts:
    """Writes cells as texts and counts what is told of them, by column."""

    def __init__(self, starts_1904: bool, declared: int | None = None) -> None:
        """Take the calendar of the workbook, and the one declared for plain numbers, if any."""
        self.named = Named()
        self.counts: Counter[tuple[str, str]] = Counter()
        self.examples: dict[tuple[str, str], str] = {}
        self.calendar = declared or (None if starts_1904 else 1900)

    def text(self, name: str, cell: Cell) -> str:
        """Return the text of a cell; days in ISO form, whole numbers without a point."""
        if isinstance(cell, str):
            if name in self.named.numbers and NUMERIC.fullmatch(cell):
                self.count(name, "numbers stored as text, read as numbers", cell)
            return cell
        if isinstance(cell, bool):
            return self._told(name, TRUTHS, "true" if cell else "false")
        if isinstance(cell, Shown) and name not in self.named.numbers | self.named.dates:
            self.count(name, "numbers whose format shows zeros or letters, read as shown",
                       cell.text)
            return cell.text
        if isinstance(cell, (int, float)):
            return self._number(name, float(cell))
        if isinstance(cell, (dt.date, dt.datetime)):
            return self._told(name, DAYS, _moment(cell))
        return self._told(name, TIMES, str(cell))

    def _told(self, name: str, what: str, text: str) -> str:
        """Count a cell where a text is meant that is none."""
        if name in self.named.texts:
            self.count(name, what, text)
        return text

    def _number(self, name: str, number: float) -> str:
        """Return a number as text; in a column of dates a plain serial number is a day."""
        if name in self.named.dates and SERIALS[0] <= number < SERIALS[1]:
            if self.calendar is None:
                self.count(name, NO_CALENDAR, f"{number:g}")
                return str(int(number)) if number.is_integer() else repr(number)
            day = EPOCHS[self.calendar] + dt.timedelta(days=int(number + SMALL))
            self.count(name, f"serial numbers read as days (calendar from {self.calendar})",
                       f"{number:g} = {day.isoformat()}")
            return day.isoformat()
        if not number.is_integer():
            if name in self.named.tags:
                self.count(name, DECIMALS, repr(number))
            return repr(number)
        if abs(number) >= DIGITS_KEPT:
            self.count(name, LOST_DIGITS, str(int(number)))
        return str(int(number))

    def count(self, name: str, what: str, example: str) -> None:
        """Count one cell."""
        self.counts[name, what] += 1
        self.examples.setdefault((name, what), example)

    def counted(self) -> Iterator[Correction]:
        """Yield what was counted in a fixed order."""
        for (name, what), n_cells in sorted(self.counts.items()):
            yield Correction(name or None, what, n_cells, self.examples[name, what])


def _moment(cell: dt.date | dt.datetime) -> str:
    """Return a day, with its time where it has one.

    Times are stored as fractions of a day, so that a round one may come a little early; the last
    half second of a day is not rounded, so that an event stays on its day.
    """
    if not isinstance(cell, dt.datetime):
        return cell.isoformat()
    near = (cell + HALF_A_SECOND).replace(microsecond=0)
    if near.date() != cell.date():
        near = cell.replace(microsecond=0)
    return near.date().isoformat() if near.time() == dt.time() else near.isoformat(" ")
