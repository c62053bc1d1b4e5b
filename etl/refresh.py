"""The way from the archive of a store to a new edition."""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import duckdb

from etl import audit
from etl.build.edition import publish_results
from etl.build.published import PUBLISHED
from etl.build.track.record import make_track_record, recorded_now
from etl.demo import make_demo_logs
from etl.errors import CheckError, InputError, StoreError
from etl.load import archive, typing, warehouse
from etl.load.append import build_appended
from etl.load.base import FILE as KEPT_ROWS
from etl.load.base import drop_base, is_latest, is_worth_keeping, sign_of, write_base
from etl.load.limits import build_memory
from etl.load.mapping import TypingOptions
from etl.load.nothing import stop_where_nothing_loaded
from etl.load.publish import publish, store_lock
from etl.load.raw import load_raw
from etl.load.store_faults import write_fault
from etl.outcome import Outcome, outcome_of
from etl.scale.partitions import write_partitions
from etl.settings import Settings, read_settings

Say = Callable[[str], None]


def quiet(_: str) -> None:
    """Say nothing."""


def load(
    path: Path | None, store: Path, *, as_of: str | None = None, track_record: bool = False,
    partitions: str | None = None, say: Say = quiet,
) -> Outcome:
    """Load a file or folder of logs and publish a new edition.

    Parameters
    ----------
    path : Path or None
        File or folder; None builds again from the logs that the store holds.
    store : Path
        Folder of the store; made when missing.
    as_of : str or None
        Data date, YYYY-MM-DD; the latest day in the logs when None.
    track_record : bool
        Also forecast from every earlier month end whose forecast the store does not hold yet.
    partitions : str or None
        Folder, or address of an object store, that gets this load's part of a fleet.
    say : callable
        Gets one line a step.

    Returns
    -------
    Outcome

    Raises
    ------
    InputError
        Nothing to load, or the data date is none.
    StoreError
        Another load is running, or the disk is full. The published edition is untouched.
    CheckError
        A rule about the tables does not hold. The published edition is untouched.
    """
    day = _day(as_of)
    settings = read_settings(store / "settings.toml")
    with store_lock(store):
        try:
            done = _build(store, _taken_in(store, path), day, settings, say, track_record,
                          partitions)
            audit.note(store, "load", edition=done.edition, rows=done.n_rows)
            return done
        except OSError as exc:
            raise write_fault(store, "the load stopped", exc) from exc


def demo(store: Path, say: Say = quiet) -> Outcome:
    """Make the invented fleet's logs in the store, load and publish them."""
    say("making the logs of the invented fleet")
    with store_lock(store):
        try:
            make_demo_logs(store / "logs")
        except OSError as exc:
            raise write_fault(store, "the logs could not be written", exc) from exc
    return load(store / "logs", store, say=say)


def _taken_in(store: Path, path: Path | None) -> list[archive.Outcome]:
    """Archive what is new; where nothing is or can be read, go by what the archive holds."""
    outcomes = archive.add(store, path) if path else []
    if any(item.load_id for item in outcomes):
        return outcomes
    try:
        return outcomes + archive.everything(store)
    except InputError as exc:
        not_read = [item.message for item in outcomes if item.message]
        raise InputError("\n".join([*not_read, str(exc)])) from exc


def _build(
    store: Path, outcomes: list[archive.Outcome], day: dt.date | None, settings: Settings, say: Say,
    track_record: bool, partitions: str | None = None,
) -> Outcome:
    """Run every step from the archive to a published edition."""
    make = functools.partial(_build_by, store, outcomes, day, settings, say, track_record,
                             partitions)
    try:
        # Earlier forecasts see the rows of earlier files alone, so they need all of them.
        done = None if track_record else make(_appended)
    except (duckdb.Error, CheckError, StoreError):
        # What is kept is damaged, as may show as late as when the edition is written; all of it
        # is in the archive. Where the disk is full, the room of what is kept may be enough.
        drop_base(store)
        done = None
    try:
        done = done or make(_whole)
        assert done is not None
        return done
    except duckdb.Error as exc:
        raise write_fault(store, "the build stopped in the database", exc) from exc


def _build_by(
    store: Path, outcomes: list[archive.Outcome], day: dt.date | None, settings: Settings, say: Say,
    track_record: bool, partitions: str | None, rows: Rows,
) -> Outcome | None:
    """Build and publish from the rows that `rows` makes; None where it cannot."""
    # In memory, spilling into the store: a work file on disk doubles the time of a large load.
    con = warehouse.connect(temp=store / "work.spill",
                            memory_bytes=build_memory(settings.database_memory_mb))
    try:
        made = rows(con, store, day, settings, say)
        if made is None:
            return None
        if track_record and made.groups is not None:
            make_track_record(con, made.groups, store, made.day, settings, say)
        publish_results(con, store, made.day, settings, say)
        if partitions:
            say("writing the fleet's partitions")
            write_partitions(con, partitions, made.day,
                             recorded_now(con, store, made.day, settings))
        say("publishing")
        number = publish(con, store, PUBLISHED, settings.editions_kept)
        if made.groups is not None:
            _keep_rows(con, store, {item.load_id for item in outcomes if item.status == "new"},
                       made.day, settings)
        return outcome_of(con, number, made.day, outcomes)
    finally:
        with contextlib.suppress(duckdb.Error):  # a database that met a full disk may not close
            con.close()


@dataclass(frozen=True)
class Made:
    """Layers ``raw``, ``clean`` and ``lives`` that stand in a database."""

    day: dt.date
    groups: dict[int, TypingOptions] | None = None
    """How files are written; None where not all of them were read."""


Rows = Callable[[duckdb.DuckDBPyConnection, Path, dt.date | None, Settings, Say], Made | None]


def _appended(con: duckdb.DuckDBPyConnection, store: Path, day: dt.date | None,
              settings: Settings, say: Say) -> Made | None:
    """Build only the places again that new rows touch; None where that cannot be done."""
    if (store / KEPT_ROWS).is_file():
        say("reading the logs that came since the last whole build")
    found = build_appended(con, store, day, settings.degraded_is_suspension, say)
    return Made(found) if found else None


def _whole(con: duckdb.DuckDBPyConnection, store: Path, day: dt.date | None,
           settings: Settings, say: Say) -> Made:
    """Build all rows and lives from the archive."""
    say("reading the logs")
    groups = load_raw(con, store, say)
    stop_where_nothing_loaded(con)
    say("checking and typing rows")
    day = typing.build_clean(con, groups, day)
    say("building lives")
    typing.build_lives(con, day, settings.degraded_is_suspension)
    return Made(day, groups)


def _keep_rows(con: duckdb.DuckDBPyConnection, store: Path, new: set[int], day: dt.date,
               settings: Settings) -> None:
    """Keep the rows of a large store for the next load; a full disk costs that load time alone."""
    counted = con.execute("select (select count(*) from raw.installations) "
                          "+ (select count(*) from raw.replacements)").fetchone() or (0,)
    if not is_latest(con, day):  # an edition of an earlier day, made beside the others
        return
    if counted[0] < settings.rows_kept_from or not is_worth_keeping(con, store, new):
        drop_base(store)
        return
    try:
        write_base(con, store, sign_of(settings.degraded_is_suspension))
    except (OSError, duckdb.Error):
        drop_base(store)


def _day(as_of: str | None) -> dt.date | None:
    """Return the data date asked for."""
    if as_of is None:
        return None
    try:
        day = dt.date.fromisoformat(as_of)
    except ValueError as exc:
        raise InputError(f"--as-of: {as_of!r} is not a date like 2026-10-31.") from exc
    if day > dt.date.today():
        raise InputError(
            f"--as-of: {day} has not come yet; hoses would be credited with days that they have"
            " not lived. Give today or an earlier day."
        )
    return day
