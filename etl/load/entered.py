"""Rows that people entered in the pages: one journal a log, and how it comes into the raw layer.

``entries/<log>.jsonl`` holds one line an entry: its own id, who, when, and rows in the columns of
the log. Lines are only ever appended. A line that a crash cut short stays where it is and is
counted as a row that cannot be read, so that nothing disappears and no row changes its number.
"""

from __future__ import annotations

import datetime as dt
import fcntl
import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb

from etl.load.columns import LOGS, Log
from etl.load.quoting import has_bare_edges
from etl.load.warehouse import run_text
from etl.parsed import from_json

FOLDER = "entries"
FIRST_LOAD = 1_000_000
"""Loads of entries are numbered from here on: what was entered on a day stands over what a file
of that day says."""
NUMBERS_APART = 16
"""Step between two loads of one log, so that every log has numbers of its own."""
CUT_SHORT = "was cut short while it was being written"
ENTER_AGAIN = "It was never confirmed to whoever entered it. Enter it again."


@dataclass(frozen=True)
class Entered:
    """One entry as it stands in a journal."""

    entry_id: str
    who: str
    at: str
    """Moment, ISO with its offset from UTC."""
    rows: tuple[Mapping[str, str], ...]
    about: Mapping[str, Any]
    """What the pages keep with an entry, such as the record that it belongs to; no log column."""
    number: int
    """Number of its first row, counted over the whole journal from 1."""
    line: bytes = field(repr=False, default=b"")

    @property
    def day(self) -> str:
        """Day on which it was entered, ISO."""
        return self.at[:10]


@dataclass(frozen=True)
class Torn:
    """A line that is no entry."""

    number: int
    text: str


@dataclass(frozen=True)
class Journal:
    """What the journal of one log holds, each entry once."""

    entries: tuple[Entered, ...] = ()
    torn: tuple[Torn, ...] = ()
    repeated: tuple[Entered, ...] = ()
    """Entries whose id was there before: a second copy of the same."""


@dataclass
class Reading:
    """A journal while its lines come in."""

    entries: list[Entered] = field(default_factory=list)
    torn: list[Torn] = field(default_factory=list)
    repeated: list[Entered] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)
    number: int = 1
    """Of the next row."""

    def take(self, content: bytes) -> None:
        """Read whole lines."""
        for line in filter(None, content.split(b"\n")):
            entry = _entry(line, self.number)
            if entry is None:
                self.torn.append(Torn(self.number, line.decode("utf-8", "replace")[:200]))
                self.number += 1
                continue
            (self.repeated if entry.entry_id in self.seen else self.entries).append(entry)
            self.seen.add(entry.entry_id)
            self.number += len(entry.rows)

    def journal(self, rest: bytes = b"") -> Journal:
        """Return what was read, and beside it the lines of `rest`, which are not taken in.

        A whole entry whose line end is missing is one: its closing brace came last.
        """
        beside = Reading(seen=self.seen.copy() if rest else set(), number=self.number)
        beside.take(rest)
        return Journal((*self.entries, *beside.entries), (*self.torn, *beside.torn),
                       (*self.repeated, *beside.repeated))


@dataclass
class Batch:
    """Entries that come into the raw layer as one load."""

    load_id: int
    day: str
    who: str
    entries: list[Entered] = field(default_factory=list)
    keys: set[tuple[str, ...]] = field(default_factory=set)
    torn: list[Torn] = field(default_factory=list)
    n_repeated: int = 0

    @property
    def n_rows(self) -> int:
        """Rows of its entries."""
        return sum(len(entry.rows) for entry in self.entries)

    @property
    def may_hold_blanks(self) -> bool:
        """Whether a cell begins or ends with a blank."""
        return not all(has_bare_edges(cell) for entry in self.entries for row in entry.rows
                       for cell in row.values() if cell)

    @property
    def n_bytes(self) -> int:
        """Size of its lines."""
        return sum(len(entry.line) for entry in self.entries)

    @property
    def sha256(self) -> str:
        """Hash of its lines."""
        return hashlib.sha256(b"".join(entry.line for entry in self.entries)).hexdigest()


def journal_path(store: Path, log: str) -> Path:
    """Return where the journal of a log lies."""
    return store / FOLDER / f"{LOGS[log].name}.jsonl"


def read_journal(store: Path, log: str) -> Journal:
    """Read the journal of one log; an empty one where nothing was entered yet.

    Notes
    -----
    Waits for whoever is appending just now, so that a line that is no entry is a torn one.
    """
    path = journal_path(store, log)
    if not path.is_file():
        return Journal()
    with path.open("rb") as file:
        fcntl.flock(file, fcntl.LOCK_SH)
        content = file.read()
    return parse_journal(content)


def parse_journal(content: bytes) -> Journal:
    """Read the bytes of a journal.

    Examples
    --------
    >>> line = b'{"entry_id": "a", "who": "x", "at": "2026-01-01T08:00", "rows": [{"note": "n"}]}'
    >>> found = parse_journal(line + b"\\n" + line + b"\\n" + line[:30])
    >>> len(found.entries), len(found.repeated), found.torn[0].number
    (1, 1, 3)
    """
    reading = Reading()
    return reading.journal(content)


def _entry(line: bytes, number: int) -> Entered | None:
    """Read one line; None where it is no entry."""
    try:
        found = from_json(line)
        rows = tuple({str(name): _sound(cell) for name, cell in row.items()}
                     for row in found["rows"])
        dt.datetime.fromisoformat(found["at"])
        dt.date.fromisoformat(found["at"][:10])  # its day is read from there
        if not rows:
            return None
        return Entered(str(found["entry_id"]), _sound(found["who"]), str(found["at"]), rows,
                       dict(found.get("about") or {}), number, line)
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def _sound(cell: Any) -> str:
    """Return a cell as text that a database takes: half of a pair of code units is none."""
    return str(cell).encode("utf-8", "replace").decode("utf-8")


def batches(log: Log, journal: Journal) -> list[Batch]:
    """Return the loads that the entries of a log make, oldest first.

    Notes
    -----
    Entries of one person and day make one load, until a key comes again: rows of one key within
    one load would contradict each other, whereas a later one corrects. What is appended later
    never changes the number of an earlier load.
    """
    found: list[Batch] = []
    again = {entry.number for entry in journal.repeated}
    lines: list[Entered | Torn] = [*journal.entries, *journal.torn, *journal.repeated]
    for item in sorted(lines, key=lambda line: line.number):
        if isinstance(item, Torn):
            batch = found[-1] if found else _new(log, found, _day_of(item), "")
            batch.torn.append(item)
        elif item.number in again:  # a first copy went before it, so there is a load
            found[-1].n_repeated += len(item.rows)
        else:
            keys = {_key(log, row) for row in item.rows}
            batch = found[-1] if found and _takes(found[-1], item, keys) else _new(
                log, found, item.day, item.who)
            batch.entries.append(item)
            batch.keys |= keys
    return found


def _takes(batch: Batch, entry: Entered, keys: set[tuple[str, ...]]) -> bool:
    """Tell whether an entry can stand in a load beside what is there."""
    return (batch.day, batch.who) == (entry.day, entry.who) and batch.keys.isdisjoint(keys)


def _day_of(torn: Torn) -> str:
    """Return the day of a torn line where its beginning still tells it."""
    told = re.search(r'"at": "(\d{4}-\d\d-\d\d)T', torn.text)
    try:
        return dt.date.fromisoformat(told[1] if told else "").isoformat()
    except ValueError:
        return "1970-01-01"


def _new(log: Log, found: list[Batch], day: str, who: str) -> Batch:
    """Begin the next load of a log."""
    number = FIRST_LOAD + len(found) * NUMBERS_APART + list(LOGS).index(log.name)
    found.append(Batch(number, day, who))
    return found[-1]


def _key(log: Log, row: Mapping[str, str]) -> tuple[str, ...]:
    """Return the key of a row as typing will find it, as far as its text shows it."""
    if row.get("row_id"):
        return ("row_id", row["row_id"].strip())
    return tuple(row.get(name, "").strip() for name in log.key)


def insert_batch(con: duckdb.DuckDBPyConnection, log: Log, batch: Batch) -> None:
    """Put the rows of one load into ``raw.<log>_rows``, and its torn lines beside them."""
    numbered = list(_numbered(batch))
    columns = {
        name: [row.get(name) or None for _, _, row in numbered] for name in log.names}
    columns["other_cells"] = [
        json.dumps({"entered by": entry.who, "entered at": entry.at}, ensure_ascii=False)
        for entry, _, _ in numbered]
    values = ", ".join(f"unnest(${name}::varchar[])" for name in columns)
    run_text(
        con,
        f"insert into raw.{log.name}_rows (load_id, entry_no, source_row, {', '.join(columns)})"
        f" select $load_id, 1, unnest($numbers::bigint[]), {values}",
        load_id=batch.load_id, numbers=[number for _, number, _ in numbered], **columns)
    for torn in batch.torn:
        con.execute(
            "insert into raw.unreadable (load_id, entry_no, source_file, source_row, value, reason,"
            " remedy) values (?, 1, ?, ?, ?, ?, ?)",
            [batch.load_id, f"{log.name}.jsonl", torn.number, torn.text, CUT_SHORT, ENTER_AGAIN])


def _numbered(batch: Batch) -> Iterator[tuple[Entered, int, Mapping[str, str]]]:
    """Return every row with its entry and its number."""
    for entry in batch.entries:
        for place, row in enumerate(entry.rows):
            yield entry, entry.number + place, row
