"""Write an edition aside, then make it current by replacing one small pointer file.

An edition is one DuckDB file under a name that was never used before. Readers follow the
pointer; a reader that holds an older edition keeps it until it looks again. A build that dies
leaves the pointer and the edition behind it untouched.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import re
import shutil
import time
from collections.abc import Iterator
from io import FileIO
from pathlib import Path

import duckdb

from etl.errors import StoreError
from etl.load.kept import sync
from etl.load.store_faults import write_fault

POINTER = "current"
NAME = re.compile(r"edition-(\d{6})\.duckdb")
UNFINISHED = "restore.unfinished"
"""Folder in which the files of a backup wait until all of them are whole."""
FORMAT = 1
"""Number of the layout of a store; raised when older software could not read it any more."""
LEFTOVERS = ("work.*", "*.tmp", "editions/*.tmp", "editions/*.wal", "files/*.tmp",
             "mappings/*.tmp", "track/*.tmp")
PARTS = ("entries/*.tmp", "entries/photographs/*.tmp", "incoming/*.tmp")
"""What a server begins, which holds no lock: left by a dead one where they are `OLD_S` old."""
OLD_S = 86_400.0
"""No photograph or file takes a day to come in."""
REBUILD = "Run `braidlife load` to build a new one from the logs in the store."


@contextlib.contextmanager
def store_lock(store: Path) -> Iterator[None]:
    """Hold the store for one build; a second build is refused and told who holds it.

    Parameters
    ----------
    store : Path
        Folder of the store; made when missing.

    Raises
    ------
    StoreError
        Another process is loading into this store.
    """
    with _lock_file(store) as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as exc:
            handle.seek(0)
            holder = handle.read().decode("ascii", "replace").strip() or "unknown"
            raise StoreError(
                f"another load is running (process {holder}). Wait until it has ended."
            ) from exc
        if (store / UNFINISHED).exists():
            raise StoreError("a restore into this store was interrupted. Run `braidlife restore` "
                             "again; what is there now is kept beside the store.")
        try:
            handle.truncate(0)
            note = str(os.getpid()).encode("ascii")
            if handle.write(note) != len(note):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            check_format(store)
            remove_leftovers(store)
        except OSError as exc:
            raise write_fault(store, "the store could not be prepared", exc) from exc
        try:
            yield
        finally:
            # What cannot be removed now is removed by the next load.
            with contextlib.suppress(OSError):
                remove_leftovers(store)


def _lock_file(store: Path) -> FileIO:
    """Open the lock file, unbuffered: on a full disk closing it must not fail once more."""
    try:
        store.mkdir(parents=True, exist_ok=True)
        return (store / "lock").open("a+b", buffering=0)
    except OSError as exc:
        raise write_fault(store, "the store could not be opened for loading", exc) from exc


def check_format(store: Path) -> None:
    """Note the layout of a new store; refuse a store whose layout is newer than this software.

    Raises
    ------
    StoreError
        The store was made by a newer version, or its note is damaged.
    """
    note = store / "format"
    text = note.read_text(encoding="ascii", errors="replace").strip() if note.is_file() else ""
    if not text:  # a new store, or a kill between making the note and filling it
        note.write_text(f"{FORMAT}\n", encoding="ascii")
    elif not text.isdecimal():
        raise StoreError(
            "format: damaged, it must hold one number. Delete this file of the store if no newer"
            " version of Braidlife was ever used on it, and load again."
        )
    elif int(text) > FORMAT:
        raise StoreError(
            f"this store was made by a newer version of Braidlife (layout {text}, known up to"
            f" {FORMAT}). Update Braidlife, or choose another store with --store."
        )


def remove_leftovers(store: Path) -> None:
    """Delete what a killed build left: work files, half editions, editions never pointed to.

    Without a pointer that can be read nothing tells published editions from others: all stay.
    """
    for pattern in LEFTOVERS:
        for path in store.glob(pattern):
            shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    for path in (part for pattern in PARTS for part in store.glob(pattern)):
        with contextlib.suppress(FileNotFoundError):  # its server has just given it its name
            if time.time() - path.stat().st_mtime > OLD_S:
                path.unlink()
    current = current_number(store)
    for number, path in editions(store).items():
        if current and number > current:
            path.unlink(missing_ok=True)


def editions(store: Path) -> dict[int, Path]:
    """Return the editions on disk by number, oldest first."""
    found = {}
    for path in sorted((store / "editions").glob("edition-*.duckdb")):
        match = NAME.fullmatch(path.name)
        if match:
            found[int(match[1])] = path
    return found


def current_number(store: Path) -> int:
    """Return the number of the current edition; 0 without a pointer that names one."""
    pointer = store / POINTER
    if not pointer.is_file():
        return 0
    match = NAME.fullmatch(pointer.read_text(encoding="ascii", errors="replace").strip())
    return int(match[1]) if match else 0


def next_number(store: Path) -> int:
    """Return the number of the edition to come: above the current one and all on disk."""
    return 1 + max([current_number(store), *editions(store)])


def current_edition(store: Path) -> Path:
    """Return the file of the current edition.

    Raises
    ------
    StoreError
        Nothing was published in this store yet, or the file pointed to is gone.
    """
    number = current_number(store)
    path = editions(store).get(number)
    if path is not None:
        return path
    if number:
        raise StoreError(f"edition {number} is missing from the store. {REBUILD}")
    if (store / POINTER).is_file():
        raise StoreError(f"{POINTER}: damaged, it names no edition. {REBUILD}")
    raise StoreError("the store holds no edition yet. Load logs with `braidlife load PATH`.")


def publish(
    con: duckdb.DuckDBPyConnection, store: Path, tables: dict[str, str], kept: int
) -> int:
    """Copy the result tables into a new edition and make it current.

    Parameters
    ----------
    con : DuckDBPyConnection
        Connection whose schema ``results`` holds every table named in `tables`.
    store : Path
        Folder of the store, locked by the caller.
    tables : dict of str to str
        Name of each published table and the columns that order it (a unique key).
    kept : int
        How many editions stay on disk, the new one included and always kept.

    Returns
    -------
    int
        Number of the new edition.

    Raises
    ------
    StoreError
        The disk is full or the folder cannot be written.
    """
    number = next_number(store)
    final = store / "editions" / f"edition-{number:06d}.duckdb"
    aside = final.with_suffix(".tmp")
    try:
        final.parent.mkdir(parents=True, exist_ok=True)
        _write(con, aside, tables)
        sync(aside)
        os.replace(aside, final)
        sync(final.parent)
        _point(store, final.name)
    except (OSError, duckdb.Error) as exc:
        _discard(store, number)
        raise write_fault(store, f"edition {number} could not be written", exc) from exc
    for path in list(editions(store).values())[:-max(kept, 1)]:
        with contextlib.suppress(OSError):  # the new edition stands; the next load tries again
            path.unlink()
    return number


def _discard(store: Path, number: int) -> None:
    """Delete an edition that did not become current, so that it does not keep a disk full."""
    if current_number(store) == number:
        return
    for path in (store / "editions").glob(f"edition-{number:06d}.*"):
        with contextlib.suppress(OSError):
            path.unlink()


def _write(con: duckdb.DuckDBPyConnection, aside: Path, tables: dict[str, str]) -> None:
    """Fill the edition file; names come from our own list, never from a user."""
    aside.unlink(missing_ok=True)
    con.execute(f"attach '{str(aside).replace(chr(39), chr(39) * 2)}' as edition")
    try:
        for table, order in tables.items():
            con.execute(
                f"create table edition.{table} as select * from results.{table} order by {order}"
            )
        if "ranking" in tables:
            con.execute("create unique index ranking_place on edition.ranking (service_point)")
        con.execute("checkpoint edition")
    finally:
        with contextlib.suppress(duckdb.Error):  # after a full disk the detach fails as well
            con.execute("detach edition")


def _point(store: Path, name: str) -> None:
    """Replace the pointer in one step."""
    aside = store / f"{POINTER}.tmp"
    aside.write_text(name + "\n", encoding="ascii")
    sync(aside)
    os.replace(aside, store / POINTER)
    sync(store)
