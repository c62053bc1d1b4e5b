"""Append entries to a journal until killed; prints each id once the entry is on the disk.

Usage: ``python -m tests.entry.appender STORE WHO FIRST COUNT [SPLIT]``. With SPLIT every line is
written in pieces with a wait between them, so that a kill falls inside a line.
"""

from __future__ import annotations

import sys
import time
from io import FileIO
from pathlib import Path

from etl.entry import journal


def slow_write(file: FileIO, size: int, line: bytes) -> None:
    """Write as a slow disk would."""
    for at in range(0, len(line), 40):
        file.write(line[at:at + 40])
        time.sleep(0.0005)
    file.write(b"\n")


def main() -> None:
    """Append as told."""
    store, who, first, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    if len(sys.argv) > 5:
        journal._write = slow_write
    for number in range(first, first + count):
        entry_id = f"{who}-{number:016d}"
        journal.append(store, "inspections", entry_id, who, [
            {"inspected_on": "2026-11-01", "service_point": f"P {number}", "condition": "good"}])
        print(entry_id, flush=True)


if __name__ == "__main__":
    main()
