"""Append an entry to the journal of its log: whole, on the disk, and once."""

from __future__ import annotations

import datetime as dt
import errno
import fcntl
import json
import os
import re
from collections.abc import Mapping, Sequence
from io import FileIO
from pathlib import Path
from typing import Any

from etl.errors import InputError
from etl.load.entered import Entered, journal_path, parse_journal
from etl.load.kept import sync
from etl.load.store_faults import write_fault

ENTRY_ID = re.compile(r"[0-9a-zA-Z-]{16,64}")
"""Made by whoever enters, so that sending again after a fault counts once."""


def append(store: Path, log: str, entry_id: str, who: str, rows: Sequence[Mapping[str, str]],
           about: Mapping[str, Any] | None = None, at: dt.datetime | None = None) -> bool:
    """Append one entry, all its rows or none of them.

    Parameters
    ----------
    store : Path
        Folder of the store.
    log : str
        Name of the log.
    entry_id : str
        Made by whoever enters; the same one sent again counts once.
    who : str
    rows : sequence of mapping
        Column of the log to text; checked before by `etl.entry.rows.check_rows`.
    about : mapping or None
        What the pages keep with the entry.
    at : datetime or None
        Moment with its offset; None takes the present one.

    Returns
    -------
    bool
        Whether it is new; False where the same entry had been kept before.

    Raises
    ------
    InputError
        The id has another form, or stands for another entry.
    StoreError
        The journal cannot be written; it is as it was before.

    Notes
    -----
    Under a lock on the journal itself: one write, then a flush to the disk. What an earlier
    crash left unfinished gets its line end first, and stays on record as a torn line.
    """
    if not ENTRY_ID.fullmatch(entry_id):
        raise InputError("entry: its id must be 16 to 64 letters, digits and hyphens. Send it "
                         "again from the page.")
    moment = at or dt.datetime.now().astimezone()
    line = json.dumps({
        "at": moment.isoformat(timespec="seconds"), "entry_id": entry_id, "who": who,
        "rows": [dict(row) for row in rows], "about": dict(about or {})}).encode("ascii")
    path = journal_path(store, log)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        is_first = not path.exists()
        with path.open("a+b", buffering=0) as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            file.seek(0)
            content = file.read()
            before = _find(content, entry_id)
            if before is not None:
                _check_same(before, who, rows)
                return False
            _write(file, len(content), (b"" if content[-1:] in (b"\n", b"") else b"\n") + line)
        if is_first:
            sync(path.parent)
            sync(store)
    except OSError as exc:
        raise write_fault(store, "the entry could not be kept", exc, "enter it again") from exc
    return True


def _write(file: FileIO, size: int, line: bytes) -> None:
    """Write a line and flush it; a write that a full disk cuts short is taken back."""
    try:
        if file.write(line + b"\n") != len(line) + 1:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        os.fsync(file.fileno())
    except OSError:
        file.truncate(size)
        raise


def _find(content: bytes, entry_id: str) -> Entered | None:
    """Return the entry that has this id; the journal is read only where the id is in it."""
    if f'"{entry_id}"'.encode("ascii") not in content:
        return None
    return next((entry for entry in parse_journal(content).entries
                 if entry.entry_id == entry_id), None)


def _check_same(before: Entered, who: str, rows: Sequence[Mapping[str, str]]) -> None:
    """Stop where an id that was kept before comes with something else."""
    if before.who != who or [dict(row) for row in before.rows] != [dict(row) for row in rows]:
        raise InputError("entry: this id stands for another entry. Reload the page and enter it "
                         "again.")
