"""Read a journal again and again, understanding only what was appended since."""

from __future__ import annotations

import fcntl
import threading
from pathlib import Path

from etl.load.entered import Journal, Reading, journal_path

_known: dict[Path, tuple[bytes, Reading]] = {}
"""Whole lines of each journal as they were read last, and what they said."""
_lock = threading.Lock()


def follow(store: Path, log: str) -> Journal:
    """Return the journal of a log, as `etl.load.entered.read_journal` does.

    Notes
    -----
    Journals only grow: where the file begins with what is known, only the rest is parsed, which
    takes nearly all of the time. Any other file is read from its beginning.
    """
    path = journal_path(store, log)
    with _lock:
        try:
            with path.open("rb") as file:
                fcntl.flock(file, fcntl.LOCK_SH)
                content = file.read()
        except FileNotFoundError:
            _known.pop(path, None)
            return Journal()
        lines, reading = _known.get(path, (b"", Reading()))
        if not content.startswith(lines):
            lines, reading = b"", Reading()
        whole = content.rfind(b"\n") + 1
        reading.take(content[len(lines):whole])
        _known[path] = content[:whole], reading
        return reading.journal(content[whole:])
