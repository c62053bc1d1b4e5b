"""What a reader hands on: a table of cell texts, and an account of every record it did not keep.

The staging table has columns ``c0, c1, ...`` in the order of the header. Its rows know their
record number through `row_number`: an expression on ``rowid`` where every record after the
header became a row, a stored column elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

UNREADABLE_COLUMNS = (
    "source_row bigint, column_name varchar, value varchar, reason varchar, remedy varchar"
)
JOINT = " / "
"""Stands between cells that are joined."""
SHOWN = 200
"""Characters of a faulty record that are kept for the report."""


@dataclass(frozen=True)
class Wanted:
    """What the mapping knows about a file's columns before it is opened."""

    names: frozenset[str] = frozenset()
    """Header texts that mark the header row, as `folded` writes them."""
    dates: frozenset[str] = frozenset()
    """Columns of dates, in which a workbook's serial numbers are days."""
    numbers: frozenset[str] = frozenset()
    """Columns of numbers, in which a workbook's text cells are worth a remark."""
    tags: frozenset[str] = frozenset()
    """Columns of identities, in which a number with decimals is worth one."""
    texts: frozenset[str] = frozenset()
    """Columns of texts, identities among them, in which a day or a truth value is worth one."""
    required: frozenset[str] = frozenset()
    """Names without which the log cannot be loaded: they tell its sheet from those of others."""

    def fit(self, names: Iterable[str]) -> tuple[int, int]:
        """Return how many of the required names, and of all wanted ones, stand in a header."""
        found = {folded(name) for name in names}
        return len(found & self.required), len(found & self.names)


@dataclass(frozen=True)
class Dialect:
    """What the mapping declares about a file's form; None is found out from the file."""

    delimiter: str | None = None
    encoding: str | None = None
    header_row: int | None = None
    sheet: str | None = None
    time_zone: str | None = None
    """Place whose clock tells the day of an instant, such as Europe/Oslo."""
    serial_days_from: int | None = None
    """Calendar, 1900 or 1904, by which plain numbers in columns of dates count days."""


@dataclass(frozen=True)
class Correction:
    """Something put right while reading, with the number of cells or rows concerned."""

    column_name: str | None
    what: str
    n_cells: int
    example: str | None = None


@dataclass
class Extract:
    """A file as read into the work database."""

    table: str
    """Staging table of the cells."""
    unreadable: str
    """Staging table of the records that could not be read (see `UNREADABLE_COLUMNS`)."""
    header: tuple[str, ...]
    """Header texts, outer blanks removed; a column without one has an empty text."""
    row_number: str
    """SQL expression that gives the record number of a staged row."""
    n_records: int
    n_blank: int
    n_skipped: int = 0
    """Records above the header that are no data."""
    corrections: list[Correction] = field(default_factory=list)
    may_hold_marks: bool = True
    """False where it is certain that no cell holds an error mark of a spreadsheet."""
    may_hold_powers: bool = True
    """False where it is certain that no cell holds a number written in powers of ten."""
    may_hold_blanks: bool = True
    """False where it is certain that no cell begins or ends with a blank."""
    filter: str = "true"
    """SQL condition of the staged rows that hold a cell at all."""
    n_rows: int | None = None
    """Rows of the staging table, where they were counted."""
    n_empty: int = 0
    """Of these, rows that `filter` leaves out."""
    n_unreadable: int | None = None
    """Records that could not be read, where they were counted."""
    sheets: tuple[str, ...] = ()
    """Visible sheets of a workbook, the one that was read first."""


def folded(name: str) -> str:
    """Return a header text in the form in which names are compared.

    Examples
    --------
    >>> folded(" Service  Point ")
    'service point'
    """
    return " ".join(name.split()).casefold()
