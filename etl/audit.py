"""What was done to a store, by whom and when: one JSON object a line, a file a month.

Lines are only ever appended. The log is shortened by whole months: when a file for a new one is
begun, those before the last `MOST_MONTHS` are deleted.
"""

from __future__ import annotations

import datetime as dt
import fcntl
import json
import logging
import os
import re
from pathlib import Path
from typing import Any

from etl.parsed import from_json

FOLDER = "audit"
BEFORE_MONTHS = "audit.jsonl"
"""One file for all, of earlier versions: read, but not added to."""
MOST_MONTHS = 36
"""Months that are kept (our choice); counted by files, so that a wrong clock deletes no others."""
LONGEST_TEXT = 200
"""Signs kept of any one text: what strangers type at the door may be of any length."""
READ_BYTES = 1 << 18
"""Read from the end: some two thousand lines."""
COMMAND_LINE = "command line"
log = logging.getLogger("braidlife.audit")


def note(store: Path, what: str, who: str = COMMAND_LINE, **about: str | int) -> None:
    """Append what was done.

    Parameters
    ----------
    store : Path
        Nothing is noted where this folder is not there.
    what : str
        Such as ``load`` or ``signed in``.
    who : str
        Name of an account, or where it came from.
    about : str or int
        What belongs to it; never a password, a link or a token.

    Notes
    -----
    A disk that takes no line stops nobody: what was done has been done, and the log of the
    process says that its line is missing.
    """
    if not store.is_dir():
        return
    moment = now()
    texts = {name: value[:LONGEST_TEXT] if isinstance(value, str) else value
             for name, value in {"what": what, "who": who, **about}.items()}
    at = moment.isoformat(timespec="seconds")
    line = json.dumps({"at": at, **texts}).encode("ascii") + b"\n"
    path = store / FOLDER / f"{moment:%Y-%m}.jsonl"
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        is_new = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            size = os.fstat(handle).st_size
            if size and os.pread(handle, 1, size - 1) != b"\n":
                line = b"\n" + line  # an earlier crash left its line unfinished
            if os.write(handle, line) != len(line):
                os.ftruncate(handle, size)
                raise OSError("the line was cut short")
            os.fsync(handle)
        finally:
            os.close(handle)
        if is_new:
            _shorten(path)
    except OSError as exc:
        log.error("a line of the audit log is missing: %s", type(exc).__name__)


def now() -> dt.datetime:
    """Return the moment, with its offset; tests put another clock in its place."""
    return dt.datetime.now().astimezone()


def _months(store: Path) -> list[Path]:
    return sorted(path for path in (store / FOLDER).glob("*.jsonl")
                  if re.fullmatch(r"\d{4}-\d\d", path.stem))


def _shorten(begun: Path) -> None:
    """Delete the oldest months, never the one just begun."""
    for path in _months(begun.parent.parent)[:-MOST_MONTHS]:
        if path != begun:
            path.unlink(missing_ok=True)


def latest(store: Path, number: int) -> list[dict[str, Any]]:
    """Return what was done last, newest first; lines that a crash cut short are left out."""
    found: list[dict[str, Any]] = []
    for path in [*reversed(_months(store)), store / BEFORE_MONTHS]:
        if len(found) < number:
            found += _last_lines(path)[:number - len(found)]
    return found


def _last_lines(path: Path) -> list[dict[str, Any]]:
    """Return what can be read of the end of a file, newest first."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - READ_BYTES))
            lines = file.read().splitlines()
    except FileNotFoundError:
        return []
    found = []
    for line in reversed(lines):
        try:
            read = from_json(line)
        except ValueError:
            continue
        if isinstance(read, dict):
            found.append(read)
    return found
