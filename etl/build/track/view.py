"""What was known at the end of an earlier month: which files, and the tables made of them alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import duckdb

from etl.load.columns import LOGS
from etl.load.mapping import TypingOptions
from etl.load.row_faults import REGISTERS
from etl.load.typing import build_clean, build_lives
from etl.load.warehouse import LAYERS

AS_KNOWN = "as known then"
RECONSTRUCTED = "reconstructed"
VIEW = "earlier"


@dataclass(frozen=True)
class EventFile:
    """A file of events, with the days that say from when on its rows were known.

    Attributes
    ----------
    load_id : int
    known_on : date
        When it was exported, or loaded where its export is not dated.
    loaded_on : date
    sha256 : str
    last_event_on : date or None
        Latest installation or removal in it.
    mapping_sha256 : str or None
        Of the mapping it is read by now; None without one.
    """

    load_id: int
    known_on: dt.date
    loaded_on: dt.date
    sha256: str
    last_event_on: dt.date | None
    mapping_sha256: str | None = None

    def reaches(self, day: dt.date) -> bool:
        """Tell whether the file holds an installation or a removal on or after a day."""
        return self.last_event_on is not None and self.last_event_on >= day


@dataclass(frozen=True)
class Origin:
    """The end of a month from which a forecast looks ahead.

    Attributes
    ----------
    on : date
    basis : str
        `AS_KNOWN`: only files that were there by then. `RECONSTRUCTED`: no log of that month was
        there by then, so that the first files to reach it are cut at the day of the event.
    files : tuple of EventFile
        In order of ``load_id``.
    """

    on: dt.date
    basis: str
    files: tuple[EventFile, ...]


def month_ends(as_of: dt.date, n_months: int) -> list[dt.date]:
    """Return the ends of months whose following month is over, oldest first.

    Examples
    --------
    >>> [day.isoformat() for day in month_ends(dt.date(2026, 3, 31), 2)]
    ['2026-01-31', '2026-02-28']
    >>> month_ends(dt.date(2026, 3, 30), 1)[0].isoformat()
    '2026-01-31'
    """
    # The day after the data date lies in the month after the last complete one.
    first = (as_of + dt.timedelta(days=1)).replace(day=1)
    found: list[dt.date] = []
    first = (first - dt.timedelta(days=1)).replace(day=1)  # of the last complete month
    while len(found) < n_months:
        found.append(first - dt.timedelta(days=1))
        first = found[-1].replace(day=1)
    return found[::-1]


def origins_of(
    files: Sequence[EventFile], as_of: dt.date, n_months: int, within_days: int
) -> list[Origin]:
    """Return the month ends that a forecast could be made at, and the files it may see.

    Parameters
    ----------
    files : sequence of EventFile
    as_of : date
        Data date of the edition.
    n_months : int
        Month ends to look back, at most.
    within_days : int
        Days after its end by which the logs of a month are loaded.

    Returns
    -------
    list of Origin
        Oldest first; a month that no file reaches is left out.
    """
    found = []
    grace = dt.timedelta(days=within_days)
    for day in month_ends(as_of, n_months):
        begin = day.replace(day=1)
        known = [file for file in files if file.known_on <= day + grace]
        if any(file.reaches(begin) for file in known):
            found.append(Origin(day, AS_KNOWN, tuple(known)))
        elif late := [file for file in files if file.reaches(begin)]:
            seen = _first_batch(files, late, grace)
            found.append(Origin(day, RECONSTRUCTED, seen))
    return found


def _first_batch(
    files: Sequence[EventFile], late: Sequence[EventFile], grace: dt.timedelta
) -> tuple[EventFile, ...]:
    """Return the files that came together with the first one to reach a month.

    Files loaded later still would tell what was known later still, and would change an old
    forecast every month.
    """
    first = min(late, key=lambda file: (file.known_on, file.loaded_on, file.load_id))
    return tuple(file for file in files if file.known_on <= first.known_on + grace
                 or file.loaded_on <= first.loaded_on + grace)


@contextmanager
def known_then(
    con: duckdb.DuckDBPyConnection, groups: Mapping[int, TypingOptions], origin: Origin,
    degraded_is_suspension: Sequence[str],
) -> Iterator[None]:
    """Let every layer be what it would have been at an origin, and put it back afterwards.

    Parameters
    ----------
    con : DuckDBPyConnection
        Work database with the raw layer; inside the block unqualified names mean the earlier
        tables: ``clean`` and ``lives`` stand, ``fit`` is empty.
    groups : mapping of int to TypingOptions
        From `etl.load.raw.load_raw`.
    origin : Origin
    degraded_is_suspension : sequence of str
    """
    main = con.execute("select current_database()").fetchall()[0][0]
    con.execute(f"attach ':memory:' as {VIEW}")
    try:
        for layer in LAYERS:
            con.execute(f"create schema {VIEW}.{layer}")
        _select_raw(con, main, [file.load_id for file in origin.files])
        con.execute(f"use {VIEW}")
        build_clean(con, groups, origin.on)
        build_lives(con, origin.on, degraded_is_suspension)
        yield
    finally:
        con.execute(f"use {main}")
        con.execute(f"detach {VIEW}")


def _select_raw(con: duckdb.DuckDBPyConnection, main: str, load_ids: Sequence[int]) -> None:
    """Make a raw layer of some files; names come from our own catalogue.

    Registers hold no dated events: they are read as they stand today, so that places keep their
    names and their lines.
    """
    listed = ", ".join(str(int(number)) for number in load_ids) or "null"
    for log in LOGS:
        kept = "" if log in REGISTERS else f" where load_id in ({listed})"
        con.execute(f"create view {VIEW}.raw.{log} as select * from {main}.raw.{log}{kept}")
    registers = ", ".join(f"'{log}'" for log in REGISTERS)
    con.execute(
        f"create view {VIEW}.raw.loads as select * from {main}.raw.loads "
        f"where log in ({registers}) or load_id in ({listed})")
    con.execute(f"create view {VIEW}.raw.unreadable as select * from {main}.raw.unreadable")
    # Typing notes cells here that it leaves out.
    con.execute(
        f"create table {VIEW}.raw.corrections as select * from {main}.raw.corrections limit 0")
