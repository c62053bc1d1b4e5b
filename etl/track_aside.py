"""The track record of a store, made in a process of its own while its pages are shown already."""

from __future__ import annotations

import fcntl
import re
import subprocess
import sys
import threading
from pathlib import Path

from etl.errors import StoreError

SAID = "track-record.said"
"""What the process says, in the store; locked for as long as it or a child of it runs."""
MONTH = re.compile(r"^forecasting from (.+) \(.*\), (\d+) of (\d+)$", re.MULTILINE)


def start_track_record(store: Path) -> None:
    """Start forecasting from the earlier months of a published store; pages take it up when done.

    Parameters
    ----------
    store : Path

    Raises
    ------
    StoreError
        No process can be started.
    """
    try:
        with (store / SAID).open("a", encoding="utf-8") as said:
            # The lock belongs to the open file: the process that inherits it keeps it till its end.
            try:
                fcntl.flock(said, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                return  # one is at work already
            said.truncate(0)
            process = subprocess.Popen(
                [sys.executable, "-m", "etl", "load", "--track-record", "--store",
                 str(store.resolve())],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=said,
                cwd=Path(__file__).resolve().parents[1])
    except OSError as exc:
        raise StoreError(
            f"{store.name}: the track record could not be started ({exc}). The pages do not need "
            "it; make it later with: braidlife load --track-record") from exc
    # Somebody has to wait for it, or it stays in the list of processes after its end.
    threading.Thread(target=process.wait, daemon=True).start()


def track_record_progress(store: Path) -> tuple[str, int, int] | None:
    """Return how far the track record is that is being made beside the pages.

    Parameters
    ----------
    store : Path

    Returns
    -------
    tuple or None
        Month whose forecast is being made (empty before the first), its number, how many there
        are; None when none is being made.
    """
    try:
        with (store / SAID).open(encoding="utf-8", errors="replace") as said:
            try:
                fcntl.flock(said, fcntl.LOCK_SH | fcntl.LOCK_NB)
                return None
            except BlockingIOError:
                found = MONTH.findall(said.read())
    except OSError:
        return None
    return (found[-1][0], int(found[-1][1]), int(found[-1][2])) if found else ("", 0, 0)
