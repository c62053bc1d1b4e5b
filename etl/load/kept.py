"""Bytes in the archive: copied whole or not at all, under the hash of their content."""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path

from etl.errors import InputError
from etl.load.quoting import as_text

BLOCK = 1 << 20


def digest(path: Path) -> str:
    """Return the SHA-256 of a file's content."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def is_whole(path: Path, sha256: str) -> bool:
    """Tell whether an archived file is there with the content of its name."""
    return path.is_file() and digest(path) == sha256


def keep(source: Path, target: Path, sha256: str) -> None:
    """Copy a file into the archive, in place of a damaged copy as well.

    A crash leaves the whole of it or nothing. Another program may still be writing the source:
    what was copied must be what was looked at.
    """
    if is_whole(target, sha256):
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".tmp")
    copied = hashlib.sha256()
    with source.open("rb") as reading, part.open("wb") as writing:
        while block := reading.read(BLOCK):
            copied.update(block)
            writing.write(block)
        writing.flush()
        os.fsync(writing.fileno())
    if copied.hexdigest() != sha256:
        part.unlink()
        raise InputError(
            f"{as_text(source.name)}: changed while it was being read. Load again when it is"
            " complete."
        )
    os.replace(part, target)
    sync(target.parent)


def put(path: Path, content: bytes) -> None:
    """Replace a small file whole; where that fails, what was begun keeps no room."""
    aside = path.with_name(f"{path.name}.tmp")
    try:
        aside.write_bytes(content)
        os.replace(aside, path)
    except OSError:
        drop(aside)
        raise


def drop(path: Path) -> None:
    """Take away what was begun aside, if it is there; a disk that lets nothing go stops nobody."""
    with contextlib.suppress(OSError):
        path.unlink()


def sync(path: Path) -> None:
    """Flush a file, or the names of a folder, to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
