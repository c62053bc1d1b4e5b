"""What was done to a store, by whom and when: one JSON object a line, only ever appended."""

from __future__ import annotations

import datetime as dt
import fcntl
import json
import logging
import os
from pathlib import Path
from typing import Any

NAME = "audit.jsonl"
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
    texts = {name: value[:LONGEST_TEXT] if isinstance(value, str) else value
             for name, value in {"what": what, "who": who, **about}.items()}
    at = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    line = json.dumps({"at": at, **texts}).encode("ascii") + b"\n"
    try:
        handle = os.open(store / NAME, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600)
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
    except OSError as exc:
        log.error("a line of the audit log is missing: %s", type(exc).__name__)


def latest(store: Path, number: int) -> list[dict[str, Any]]:
    """Return what was done last, newest first; lines that a crash cut short are left out."""
    try:
        with (store / NAME).open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - READ_BYTES))
            lines = file.read().splitlines()
    except FileNotFoundError:
        return []
    found: list[dict[str, Any]] = []
    for line in reversed(lines):
        try:
            read = json.loads(line)
        except ValueError:
            continue
        if isinstance(read, dict) and len(found) < number:
            found.append(read)
    return found
