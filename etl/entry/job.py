"""Make a new edition after entries, in a process of its own.

``python -m etl.entry.job STORE`` builds until nothing new was entered meanwhile; with ``demo``
after it, the first build makes the invented fleet's logs. A second one started beside it ends at
once: the first one sees what was entered. What it does stands in ``entries/progress.json``,
replaced whole at every step.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from io import FileIO
from pathlib import Path

from etl.errors import BraidlifeError, StoreError
from etl.load.columns import LOGS
from etl.load.entered import FOLDER, journal_path
from etl.load.kept import put
from etl.load.store_faults import write_fault
from etl.parsed import from_json

PROGRESS = "progress.json"
LOCK = "job"
DEMO = "demo"
WAIT_S = 2.0
"""Between two looks whether a load that somebody else started has ended."""
LONGEST_WAIT_S = 3600.0
LONGEST_START_S = 60.0
"""Until a job that was started has its lock, on a busy machine."""
WORKING = ("starting", "waiting", "building")
TRIES, BETWEEN_TRIES_S = 10, 0.1
"""A page that asks whether a job is at work holds its lock for a moment."""


@dataclass(frozen=True)
class Progress:
    """What the background job does or did.

    Attributes
    ----------
    state : str
        ``never``, ``starting``, ``waiting``, ``building``, ``done`` or ``failed``.
    step : str
        What is being done, or why it failed.
    edition : int
        Number of the edition it made last; 0 before.
    seconds : float
        Since it began.
    """

    state: str = "never"
    step: str = ""
    edition: int = 0
    seconds: float = 0.0


def start(store: Path, is_demo: bool = False) -> None:
    """Start the job in a process of its own, unless one is at work.

    Parameters
    ----------
    store : Path
    is_demo : bool
        Make the logs of the invented fleet first.

    Raises
    ------
    StoreError
        The store cannot be written, or no process can be started.
    """
    try:
        with _lock(store) as is_mine:  # nobody else writes the note, and a job waits for the lock
            if is_mine:
                _tell(store, Progress("starting", "starting", _told(store)[0].edition))
        process = subprocess.Popen(
            [sys.executable, "-m", "etl.entry.job", str(store.resolve()),
             *([DEMO] if is_demo else [])],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            start_new_session=True, cwd=Path(__file__).resolve().parents[2])
    except OSError as exc:
        raise write_fault(store, "no new edition could be started", exc, "try again") from exc
    # Somebody has to wait for it, or it stays in the list of processes after its end.
    threading.Thread(target=process.wait, daemon=True).start()


def progress(store: Path) -> Progress:
    """Return what the job does; a job that died without a word has failed."""
    told, age_s = _told(store)
    while told.state in WORKING and not is_running(store):
        if told.state == "starting" and abs(age_s) < LONGEST_START_S:  # a clock may be set back
            return told
        seen, (told, age_s) = told, _told(store)
        if told == seen:  # else it went on, or ended well, between the two looks
            return Progress("failed", "The work was interrupted. What was entered is kept; start "
                            "it again.", told.edition, told.seconds)
    return told


def _told(store: Path) -> tuple[Progress, float]:
    """Return what a job told last, and its age, s."""
    note = store / FOLDER / PROGRESS
    try:
        told = Progress(**from_json(note.read_text(encoding="ascii")))
        return told, time.time() - note.stat().st_mtime
    except (OSError, ValueError, TypeError):
        return Progress(), 0.0


def is_running(store: Path) -> bool:
    """Tell whether a job holds its lock."""
    try:
        with (store / FOLDER / LOCK).open("rb", buffering=0) as handle:
            return not _take(handle, fcntl.LOCK_SH)  # several may look at once
    except OSError:
        return False  # none ever was, or the lock cannot be read: nobody works there


def work(store: Path, is_demo: bool = False) -> None:
    """Build until every entry is in an edition."""
    while True:
        with _lock(store, TRIES) as is_mine:
            if not is_mine:
                return
            while True:
                before = _sizes(store)
                is_built, is_demo = _build(store, is_demo), False
                if not is_built or _sizes(store) == before:
                    break
        # Whoever entered between the last look and the end of the lock found the job still running.
        if not is_built or _sizes(store) == before:
            return


def _build(store: Path, is_demo: bool) -> bool:
    """Make one edition and tell how it goes; False where it cannot be made."""
    # Imported here: whoever only asks for the progress needs no statistics.
    from etl import refresh

    began = time.monotonic()
    edition = progress(store).edition

    def say(step: str, state: str = "building") -> None:
        with contextlib.suppress(OSError):  # the work goes on where its note cannot be written
            _tell(store, Progress(state, step, edition, round(time.monotonic() - began, 1)))

    say("starting")
    while True:
        try:
            outcome = (refresh.demo(store, say) if is_demo
                       else refresh.load(None, store, say=say))
        except StoreError as exc:
            if not str(exc).startswith("another load is running") or (
                    time.monotonic() - began > LONGEST_WAIT_S):
                say(str(exc), "failed")
                return False
            say(str(exc), "waiting")
            time.sleep(WAIT_S)
        except BraidlifeError as exc:
            say(str(exc), "failed")
            return False
        except Exception as exc:
            say(f"{type(exc).__name__}: the build stopped unexpectedly. What was entered is kept.",
                "failed")
            raise
        else:
            edition = outcome.edition
            say("", "done")
            return True


def _tell(store: Path, told: Progress) -> None:
    """Replace the note of what is being done; where the disk has no room for two, in its place."""
    path, content = store / FOLDER / PROGRESS, json.dumps(asdict(told)).encode("ascii")
    try:
        put(path, content)
    except OSError:
        if not path.is_file():
            raise
        with path.open("r+b", buffering=0) as file:
            # One write, and blanks to the end of what stood there: it can be read at any moment.
            file.write(content.ljust(path.stat().st_size))


def _sizes(store: Path) -> list[int]:
    """Return how much was entered in each log."""
    paths = [journal_path(store, log) for log in LOGS]
    return [path.stat().st_size if path.is_file() else 0 for path in paths]


@contextlib.contextmanager
def _lock(store: Path, tries: int = 1) -> Iterator[bool]:
    """Hold the lock of the job, if nobody else does."""
    (store / FOLDER).mkdir(parents=True, exist_ok=True)
    with (store / FOLDER / LOCK).open("a+b", buffering=0) as handle:
        while not (is_mine := _take(handle, fcntl.LOCK_EX)) and tries > 1:
            tries -= 1
            time.sleep(BETWEEN_TRIES_S)
        yield is_mine


def _take(handle: FileIO, mode: int) -> bool:
    try:
        fcntl.flock(handle, mode | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


if __name__ == "__main__":
    os.nice(10)
    work(Path(sys.argv[1]), sys.argv[2:] == [DEMO])
