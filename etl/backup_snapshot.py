"""The files of a store at one moment, read while loads and pages go on writing.

The order of reading makes it consistent without stopping anybody. The pointer comes first, then
what only ever grows (register, journals), then what these name: archived files, mappings,
photographs and editions never change once they have their name. So the copy is a state in which a
store may be found after a power cut, and the next load continues from it. The accounts are copied
by the database that keeps them, between two changes.

Files that wait to be loaded (``incoming/``), with what was chosen about them, and a demo that was
set aside with what was entered in it (``set-aside/``), are kept as well: somebody put them there.
Sessions and invitations are not: a restore would open again what was ended since.
"""

from __future__ import annotations

import fcntl
import io
import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from etl.account import book
from etl.backup_archive import LIST, is_plain
from etl.load.base import FILE as KEPT_ROWS
from etl.load.publish import LEFTOVERS, NAME, POINTER, UNFINISHED

PASSING = (*LEFTOVERS, UNFINISHED, KEPT_ROWS, "lock", "entries/job", "entries/progress.json",
           "*/*.tmp", "*/*/*.tmp", f"{book.NAME}-*")
"""What a running process leaves while it works, and what a load makes again from the archive."""
WAIT_S = 30.0
"""For somebody who changes the accounts at the same moment."""
TRIES = 20
"""Of finding the current edition, while loads replace it."""


@dataclass(frozen=True)
class Source:
    """One file of a store, open for reading."""

    name: str
    file: IO[bytes]
    is_private: bool


def snapshot(store: Path, left_out: list[str]) -> tuple[int, Iterator[Source]]:
    """Return the number of the current edition, 0 without one, and every file to be kept.

    Parameters
    ----------
    store : Path
    left_out : list of str
        Gets the names that no backup can hold.

    Raises
    ------
    OSError
        A file of the store cannot be read.
    """
    pointer, edition = _published(store)
    number = int(NAME.fullmatch(Path(edition.name).name)[1]) if edition else 0  # type: ignore[index]
    return number, _sources(store, pointer, edition, left_out)


def _published(store: Path) -> tuple[bytes, IO[bytes] | None]:
    """Return the pointer and the edition that it names, held open: a load may delete it."""
    pointer = b""
    for _ in range(TRIES):
        if not (store / POINTER).is_file():
            break
        pointer = (store / POINTER).read_bytes()
        named = NAME.fullmatch(pointer.decode("ascii", "replace").strip())
        if named is None:
            break
        try:
            return pointer, (store / "editions" / named[0]).open("rb")
        except FileNotFoundError:
            continue
    # Damaged or gone: all else is worth keeping, and the next load makes an edition of it.
    return pointer, None


def _sources(store: Path, pointer: bytes, edition: IO[bytes] | None, left_out: list[str],
             ) -> Iterator[Source]:
    """Yield the files in the order that keeps them consistent."""
    latest = Path(edition.name).name if edition else ""
    with closing(edition or io.BytesIO()):
        first = {name: content for name in _names(store)
                 if name.endswith((".jsonl", ".sign")) and is_plain(name)
                 and (content := _locked(store / name)) is not None}
        if pointer:
            yield Source(POINTER, io.BytesIO(pointer), False)
        for name, content in first.items():
            if name.endswith(".jsonl"):
                yield Source(name, io.BytesIO(content), _is_private(store / name))
        for name in _names(store):
            folder, _, last = name.rpartition("/")
            if name == POINTER or name.endswith((".jsonl", ".sign")) or (
                    folder == "editions" and latest and last > latest):
                continue  # what came after the pointer belongs to a later state
            if not is_plain(name) or name == LIST:
                left_out.append(name)
            elif edition is not None and folder == "editions" and last == latest:
                yield Source(name, edition, False)
            else:
                yield from _opened(store, name)
        # A sign vouches for the tables of its month: only if they were not made anew meanwhile.
        for name, content in first.items():
            if name.endswith(".sign") and (store / name).is_file() and (
                    (store / name).read_bytes() == content):
                yield Source(name, io.BytesIO(content), False)


def _opened(store: Path, name: str) -> Iterator[Source]:
    """Yield a file, or nothing where a load deleted it meanwhile, as it does with old editions."""
    if name == book.NAME:
        yield Source(name, io.BytesIO(_accounts(store / name)), True)
        return
    try:
        file = (store / name).open("rb")
    except FileNotFoundError:
        return
    with file:
        yield Source(name, file, _is_private(store / name))


def _accounts(path: Path) -> bytes:
    """Return the file of the accounts as it is between two changes; a damaged one as it is."""
    try:
        with (closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True,
                                      timeout=WAIT_S)) as kept,
              closing(sqlite3.connect(":memory:")) as copy):
            kept.backup(copy)
            book.without_passing(copy)
            return copy.serialize()
    except sqlite3.DatabaseError as exc:
        if isinstance(exc, sqlite3.OperationalError):
            raise OSError("the accounts were being written to all the time") from exc
        return path.read_bytes()


def _locked(path: Path) -> bytes | None:
    """Return the content of a file that grows, between two appends; None where it is gone."""
    try:
        with path.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_SH)
            return file.read()
    except FileNotFoundError:
        return None  # an old month of the audit log


def _is_private(path: Path) -> bool:
    try:
        return not stat.S_IMODE(path.stat().st_mode) & 0o077
    except FileNotFoundError:
        return False


def _names(store: Path) -> list[str]:
    """Return the files that a store keeps, in order; links to folders are followed once."""
    found: list[str] = []
    seen: set[tuple[int, int]] = set()
    for folder, folders, files in os.walk(store, followlinks=True):
        about = os.stat(folder)
        if (about.st_dev, about.st_ino) in seen:
            folders.clear()
            continue
        seen.add((about.st_dev, about.st_ino))
        here = Path(folder).relative_to(store)
        folders[:] = [name for name in folders if not _is_passing(here / name)]
        found += [(here / name).as_posix() for name in files
                  if not _is_passing(here / name) and (Path(folder) / name).is_file()]
    return sorted(found)


def _is_passing(path: Path) -> bool:
    """Tell whether a path, seen from the store, is something that only a running process needs."""
    return any(len(path.parts) == rule.count("/") + 1 and path.match(rule) for rule in PASSING)
