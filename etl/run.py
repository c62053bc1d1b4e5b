"""What the commands call, and the way from the archive to an edition."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import duckdb

from etl import audit
from etl.backup import back_up as back_up
from etl.backup_restore import restore as restore
from etl.build.edition import publish_results
from etl.build.published import PUBLISHED
from etl.build.track.record import make_track_record
from etl.demo import make_demo_logs
from etl.errors import InputError, StoreError
from etl.export import export_table
from etl.fit_file import fit_file, render
from etl.load import archive, typing, warehouse
from etl.load.check import check_path, write_proposal
from etl.load.check_report import CheckReport
from etl.load.limits import build_memory
from etl.load.publish import current_edition, publish, store_lock
from etl.load.raw import load_raw
from etl.load.store_faults import write_fault
from etl.load.trial_run import try_rows
from etl.month_store import store_of_month
from etl.outcome import Outcome, outcome_of
from etl.scale.partitions import write_partitions
from etl.scale.start import Outcome as FleetOutcome
from etl.scale.start import refuse_fleet, start_fleet
from etl.settings import Settings, read_settings
from etl.track_aside import start_track_record as start_track_record

Say = Callable[[str], None]


def _quiet(_: str) -> None:
    """Say nothing."""


def load(
    path: Path | None, store: Path, *, as_of: str | None = None, track_record: bool = False,
    partitions: str | None = None, say: Say = _quiet,
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


def fleet(
    folder: str, store: Path, *, workers: int = 1, cluster: str | None = None,
    tls: Path | None = None, say: Say = _quiet,
) -> FleetOutcome:
    """Estimate a fleet from the partitions of its sites; see `etl.scale.start.start_fleet`."""
    return start_fleet(folder, store, workers=workers, cluster=cluster, tls=tls, say=say)


def _taken_in(store: Path, path: Path | None) -> list[archive.Outcome]:
    """Archive what is new; where nothing is or can be read, go by what the archive holds."""
    outcomes = archive.add(store, path) if path else []
    if not any(item.load_id for item in outcomes):
        outcomes += archive.everything(store)
    return outcomes


def _build(
    store: Path, outcomes: list[archive.Outcome], day: dt.date | None, settings: Settings, say: Say,
    track_record: bool, partitions: str | None = None,
) -> Outcome:
    """Run every step from the archive to a published edition."""
    # In memory, spilling into the store: a work file on disk doubles the time of a large load.
    con = warehouse.connect(temp=store / "work.spill",
                            memory_bytes=build_memory(settings.database_memory_mb))
    try:
        say("reading the logs")
        groups = load_raw(con, store, say)
        say("checking and typing rows")
        day = typing.build_clean(con, groups, day)
        say("building lives")
        typing.build_lives(con, day, settings.degraded_is_suspension)
        if track_record:
            make_track_record(con, groups, store, day, settings, say)
        publish_results(con, store, day, settings, say)
        if partitions:
            say("writing the fleet's partitions")
            write_partitions(con, partitions, day)
        say("publishing")
        number = publish(con, store, PUBLISHED, settings.editions_kept)
        return outcome_of(con, number, day, outcomes)
    except duckdb.Error as exc:
        raise write_fault(store, "the build stopped in the database", exc) from exc
    finally:
        with contextlib.suppress(duckdb.Error):  # a database that met a full disk may not close
            con.close()


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


def demo(store: Path, say: Say = _quiet) -> Outcome:
    """Make the invented fleet's logs in the store, load and publish them."""
    say("making the logs of the invented fleet")
    with store_lock(store):
        try:
            make_demo_logs(store / "logs")
        except OSError as exc:
            raise write_fault(store, "the logs could not be written", exc) from exc
    return load(store / "logs", store, say=say)


def check(path: Path, *, write: bool = False, say: Say = _quiet) -> CheckReport:
    """Read logs without loading them, and say row by row what would be refused.

    Parameters
    ----------
    path : Path
        File or folder.
    write : bool
        Write the proposed mapping beside the files.
    say : callable

    Returns
    -------
    CheckReport
    """
    say("reading")
    report = check_path(path)
    say("checking rows")
    try_rows(path, report)
    if write:
        written = write_proposal(path, report)
        say(f"proposal written to {written}" if written else "nothing to propose")
    return report


def fit(
    file: Path, confidence: float, bounds: str = "likelihood",
    survival_at: Sequence[float] = (), is_full: bool = False,
) -> dict[str, Any]:
    """Fit a Weibull distribution to each group of a table of lives; see `etl.fit_file`."""
    return fit_file(file, confidence, bounds=bounds, survival_at=survival_at, is_full=is_full)


def render_fit(result: dict[str, Any]) -> str:
    """Return a fit as text."""
    return render(result)


def export(store: Path, table: str, out: Path) -> int:
    """Write a published table to a file; see `etl.export.export_table`."""
    return export_table(store, table, out)


def report(store: Path, out: Path, month: str | None = None) -> str:
    """Write the report of a month, one file or a folder of them, and say what was written.

    Parameters
    ----------
    store, out : Path
    month : str or None
        YYYY-MM, an earlier month: from an edition that the store keeps, else from one made of the
        logs as of its last day. None takes the current edition.

    Raises
    ------
    InputError
        The file or folder cannot be written, or there is no such month in the logs.
    StoreError
        There is no edition to read, or it is damaged.
    """
    # Imported here: the pages' libraries cost a second that no other command needs to pay.
    from dashboard.queries.edition import EditionError
    from dashboard.report.files import write_report

    current_edition(store)  # says what is missing in the words of the other commands
    refuse_fleet(store)
    try:
        with contextlib.ExitStack() as stack:
            if month is not None:
                store = stack.enter_context(store_of_month(
                    store, month, lambda beside, day: load(None, beside, as_of=day.isoformat())))
            made = write_report(store, out)
    except EditionError as exc:
        raise StoreError(str(exc)) from exc
    except OSError as exc:
        raise InputError(
            f"{out.name}: could not be written ({exc.strerror or 'no room'}). Choose another folder"
            " with --out, or make room there."
        ) from exc
    if not made.files:
        raise InputError(f"{out.name}: not written. {made.note}")
    return "\n".join([*(f"written: {path.name}" for path in made.files),
                      *([made.note] if made.note else [])])


def serve(
    store: Path, host: str, port: int, is_json: bool = False, n_processes: int = 0,
    names: Sequence[str] = (),
) -> None:
    """Serve the pages until told to stop; see `dashboard.serve.serve`.

    Raises
    ------
    InputError
        The address reaches beyond this machine, the port is taken, or the store is a fleet's.
    """
    # Imported here: the pages' libraries cost a second that no other command needs to pay.
    from dashboard.serve import serve as serve_pages

    refuse_fleet(store)
    try:
        serve_pages(store, host, port, is_json, n_processes, tuple(names))
    except (ValueError, OSError) as exc:
        raise InputError(f"cannot serve: {exc}. Choose another --host or --port.") from exc
