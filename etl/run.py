"""What the commands call."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from etl import audit
from etl.backup import back_up as back_up
from etl.backup_restore import Restored
from etl.backup_restore import restore as restore_backup
from etl.errors import InputError, StoreError
from etl.export import export_table
from etl.fit_file import fit_file, render
from etl.load.check import check_path, write_proposal
from etl.load.check_report import CheckReport
from etl.load.publish import current_edition
from etl.load.trial_run import try_rows
from etl.month_store import store_of_month
from etl.refresh import Say, quiet
from etl.refresh import demo as demo
from etl.refresh import load as load
from etl.scale.start import Outcome as FleetOutcome
from etl.scale.start import refuse_fleet, start_fleet
from etl.track_aside import start_track_record as start_track_record


def fleet(
    folder: str, store: Path, *, workers: int = 1, cluster: str | None = None,
    tls: Path | None = None, say: Say = quiet,
) -> FleetOutcome:
    """Estimate a fleet from the partitions of its sites; see `etl.scale.start.start_fleet`."""
    return start_fleet(folder, store, workers=workers, cluster=cluster, tls=tls, say=say)


def check(path: Path, *, write: bool = False, say: Say = quiet) -> CheckReport:
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


def restore(file: Path, store: Path, *, is_replacing: bool = False) -> Restored:
    """Make a store of a backup and note it there; see `etl.backup_restore.restore`."""
    done = restore_backup(file, store, is_replacing=is_replacing)
    audit.note(store, "restored", edition=done.listed.edition, backup=file.name)
    return done


def export(store: Path, table: str, out: Path,
           tell: Callable[[str], None] = lambda _: None) -> int:
    """Write a published table to a file; see `etl.export.export_table`."""
    return export_table(store, table, out, tell)


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
