"""A table of lives as text cells: what each row says, and which rows cannot be used."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from etl.errors import InputError

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Cells = Sequence[object]

COLUMNS = ("time", "time_low", "time_high", "kind", "entry", "count", "group")
KINDS = {"failed": "failed", "f": "failed", "suspended": "suspended", "s": "suspended",
         "interval": "interval", "i": "interval", "": ""}
NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")
NO_GROUP = "all"


@dataclass(frozen=True)
class RefusedRow:
    """A row that cannot be used, and why."""

    row: int
    column: str
    value: str
    reason: str


@dataclass
class LivesTable:
    """Rows that can be used, laid out for `etl.life.fit.fit_strata`.

    Attributes
    ----------
    groups : list of str
        Names in order; a group all of whose rows are refused is among them.
    stratum : ndarray of int, shape (n,)
        Position in ``groups``.
    entry, low, high, count : ndarray, shape (n,)
    refused : list of RefusedRow
    unused_columns : list of str
        Columns that mean nothing here.
    """

    groups: list[str]
    stratum: NDArray[np.intp]
    entry: Floats
    low: Floats
    high: Floats
    count: Floats
    refused: list[RefusedRow] = field(default_factory=list)
    unused_columns: list[str] = field(default_factory=list)


def read_lives(
    columns: Mapping[str, Cells], row_numbers: Sequence[int] | None = None, where: str = "lives"
) -> LivesTable:
    """Turn columns of cells into lives.

    Parameters
    ----------
    columns : mapping of str to sequence
        ``time``, or ``time_low`` and ``time_high``; optional ``kind`` (failed, suspended,
        interval), ``entry``, ``count``, ``group``. Cells are text, numbers or None.
    row_numbers : sequence of int, optional
        Number of each row for messages; counted from 1 when left out.
    where : str
        Name of the table for messages.

    Returns
    -------
    LivesTable

    Raises
    ------
    InputError
        A needed column is missing, ``time`` stands beside ``time_low``, a column name looks like
        a slip, a column is there twice, or lengths differ.

    Notes
    -----
    Rows that contradict themselves are refused one by one; the others are used.

    Examples
    --------
    >>> table = read_lives({"time": ["10", "20", "x"], "kind": ["failed", "suspended", ""]})
    >>> table.low.tolist(), table.high.tolist(), table.refused[0].row
    ([10.0, 20.0], [10.0, inf], 3)
    """
    named, unused = _named(columns, where)
    n = len(next(iter(named.values())))
    numbers = list(range(1, n + 1)) if row_numbers is None else list(row_numbers)
    rows = _Rows(named, numbers)
    entry = rows.numbers("entry", 0.0)
    count = rows.numbers("count", 1.0)
    kind = rows.kinds()
    low, high = _ends(rows, kind)
    _refuse(rows, entry, low, high, count)
    texts = rows.texts("group") if "group" in named else [NO_GROUP] * n
    groups = sorted(set(texts)) if n or "group" in named else [NO_GROUP]
    place = {name: i for i, name in enumerate(groups)}
    stratum = np.array([place[text] for text in texts], np.intp)
    used = rows.is_good & (count > 0.0)
    return LivesTable(groups, stratum[used], entry[used], low[used], high[used], count[used],
                      rows.refused(), unused)


def _named(columns: Mapping[str, Cells], where: str) -> tuple[dict[str, Cells], list[str]]:
    """Return the known columns by name and the names of the others."""
    named: dict[str, Cells] = {}
    unused = []
    for header, cells in columns.items():
        name = re.sub(r"[\s\-]+", "_", header.strip().lower())
        if name not in COLUMNS:
            near = difflib.get_close_matches(name, COLUMNS, 1, 0.8)
            if near and near[0] not in {item.strip().lower() for item in columns}:
                raise InputError(f"{where}: unknown column '{header}'. Did you mean '{near[0]}'?")
            unused.append(header)
        elif name in named:
            raise InputError(f"{where}: column '{name}' is there twice. Keep one of them.")
        else:
            named[name] = cells
    if "time" not in named and "time_low" not in named:
        raise InputError(
            f"{where}: a column 'time' is needed, or 'time_low' and 'time_high'; found "
            f"{', '.join(columns) or 'none'}. Rename the column that holds the lives."
        )
    if "time" in named and ("time_low" in named or "time_high" in named):
        raise InputError(
            f"{where}: give either 'time' or 'time_low' and 'time_high', not both."
        )
    lengths = {name: len(cells) for name, cells in named.items()}
    if len(set(lengths.values())) > 1:
        raise InputError(f"{where}: columns must have one length, found {lengths}.")
    return named, unused


class _Rows:
    """Cells by column and row, with the first fault of each row."""

    def __init__(self, named: Mapping[str, Cells], numbers: list[int]) -> None:
        """Start without faults."""
        self.named, self.row_numbers = named, numbers
        self.is_good: Bools = np.ones(len(numbers), np.bool_)
        self.faults: dict[int, tuple[str, str]] = {}

    def texts(self, column: str) -> list[str]:
        """Return the cells of a column as text without outer blanks."""
        if column not in self.named:
            return [""] * len(self.row_numbers)
        return ["" if cell is None else str(cell).strip() for cell in self.named[column]]

    def numbers(self, column: str, otherwise: float) -> Floats:
        """Return a column of numbers; a blank cell gives ``otherwise``."""
        values = np.full(len(self.row_numbers), otherwise)
        if column not in self.named:
            return values
        for i, text in enumerate(self.texts(column)):
            if NUMBER.fullmatch(text):
                values[i] = float(text)
            elif text:
                hint = f" Write {text.replace(',', '.')}." if text.count(",") == 1 else ""
                self.refuse(i, column, f"{column} is not a number.{hint}")
        self.refuse_where(np.isinf(values), column, f"{column} is too large.")
        return values

    def kinds(self) -> list[str]:
        """Return the kind that each row states, or an empty text."""
        kinds = []
        for i, text in enumerate(self.texts("kind")):
            kind = KINDS.get(text.lower())
            if kind is None:
                self.refuse(i, "kind", "kind must be failed, suspended or interval.")
            kinds.append(kind or "")
        return kinds

    def refuse(self, index: int, column: str, reason: str) -> None:
        """Note the first fault of a row."""
        self.is_good[index] = False
        self.faults.setdefault(index, (column, reason))

    def refuse_where(self, wrong: Bools, column: str, reason: str) -> None:
        """Note a fault for each row marked."""
        for index in np.flatnonzero(wrong).tolist():
            self.refuse(index, column, reason)

    def refused(self) -> list[RefusedRow]:
        """Return the refused rows in their order."""
        cells = {column: self.texts(column) for column in {fault[0] for fault in
                                                           self.faults.values()}}
        return [RefusedRow(self.row_numbers[i], column, cells[column][i], reason)
                for i, (column, reason) in sorted(self.faults.items())]


def _ends(rows: _Rows, kind: list[str]) -> tuple[Floats, Floats]:
    """Return both ends of each life; a suspension has an infinite upper end."""
    stated = np.array(kind, np.str_)
    if "time" in rows.named:
        low = rows.numbers("time", np.nan)
        rows.refuse_where(np.isnan(low), "time", "time is empty.")
        rows.refuse_where(stated == "interval", "kind",
                          "an interval needs both ends: use time_low and time_high.")
        return low, np.where(stated == "suspended", np.inf, low)
    low, high = rows.numbers("time_low", np.nan), rows.numbers("time_high", np.nan)
    rows.refuse_where(np.isnan(low), "time_low", "time_low is empty; write 0 for 'from new'.")
    blank = np.isnan(high)
    rows.refuse_where(blank & ((stated == "failed") | (stated == "interval")), "time_high",
                      "a failed life needs time_high; leave it empty only for a suspension.")
    held = stated == "suspended"
    rows.refuse_where(held & ~blank & (high != low), "time_high",
                      "a suspension has no time_high, or the same as time_low.")
    return low, np.where(blank | held, np.inf, high)


def _refuse(rows: _Rows, entry: Floats, low: Floats, high: Floats, count: Floats) -> None:
    """Refuse rows whose figures contradict each other."""
    exact = "time" in rows.named
    first, last = ("time", "time") if exact else ("time_low", "time_high")
    rows.refuse_where(entry < 0.0, "entry", "entry is negative.")
    rows.refuse_where(count < 0.0, "count", "count is negative.")
    rows.refuse_where(low < 0.0, first, f"{first} is negative.")
    rows.refuse_where(high < low, last, "time_high is before time_low.")
    failed = np.isfinite(high)
    rows.refuse_where(
        failed & (high == 0.0), last,
        "a failure at age 0: write it as an interval from 0 to the resolution of the record.")
    rows.refuse_where(failed & (entry >= high) & (high > 0.0), "entry",
                      "entry must be before the failure.")
    rows.refuse_where(~failed & (entry > low), "entry", "entry is after the end of the life.")
