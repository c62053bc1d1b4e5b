"""Write an edition aside, then make it current by replacing one small pointer file.

An edition is one DuckDB file under a name that was never used before. Readers follow the
pointer; a reader that holds an older edition keeps it until it looks again. A build that dies
leaves the pointer and the edition behind it untouched.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import duckdb

from etl.errors import StoreError

POINTER = "current"
NAME = re.compile(r"edition-(\d{6})\.duckdb")


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
    store.mkdir(parents=True, exist_ok=True)
    with (store / "lock").open("a+", encoding="ascii") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as exc:
            handle.seek(0)
            holder = handle.read().strip() or "unknown"
            raise StoreError(
                f"another load is running (process {holder}). Wait until it has ended."
            ) from exc
        handle.truncate(0)
        handle.write(str(os.getpid()))
        handle.flush()
        remove_leftovers(store)
        try:
            yield
        finally:
            remove_leftovers(store)


def remove_leftovers(store: Path) -> None:
    """Delete what a killed build left: work files, half editions, editions never pointed to."""
    for pattern in ("work.*", "*.tmp", "editions/*.tmp", "editions/*.wal", "files/*.tmp"):
        for path in store.glob(pattern):
            shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    current = current_number(store)
    for number, path in editions(store).items():
        if number > current:
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
    """Return the number of the current edition, 0 when nothing was published yet."""
    pointer = store / POINTER
    match = NAME.search(pointer.read_text(encoding="ascii")) if pointer.is_file() else None
    return int(match[1]) if match else 0


def current_edition(store: Path) -> Path:
    """Return the file of the current edition.

    Raises
    ------
    StoreError
        Nothing was published in this store yet, or the file pointed to is gone.
    """
    number = current_number(store)
    path = editions(store).get(number)
    if path is None:
        cure = "Load logs with `braidlife load PATH`."
        if number:
            raise StoreError(f"edition {number} is missing from the store. {cure}")
        raise StoreError(f"the store holds no edition yet. {cure}")
    return path


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
        How many editions stay on disk, the new one included.

    Returns
    -------
    int
        Number of the new edition.

    Raises
    ------
    StoreError
        The disk is full or the folder cannot be written.
    """
    number = current_number(store) + 1
    final = store / "editions" / f"edition-{number:06d}.duckdb"
    aside = final.with_suffix(".tmp")
    final.parent.mkdir(parents=True, exist_ok=True)
    try:
        _write(con, aside, tables)
        _sync(aside)
        os.replace(aside, final)
        _sync(final.parent)
        _point(store, final.name)
    except (OSError, duckdb.Error) as exc:
        aside.unlink(missing_ok=True)
        free = shutil.disk_usage(store).free // 2**20
        raise StoreError(
            f"edition {number} could not be written ({free} MB free): {_plain(exc)} "
            "The published edition is untouched."
        ) from exc
    for old, path in editions(store).items():
        if old <= number - kept:
            path.unlink(missing_ok=True)
    return number


def _write(con: duckdb.DuckDBPyConnection, aside: Path, tables: dict[str, str]) -> None:
    """Fill the edition file; names come from our own list, never from a user."""
    aside.unlink(missing_ok=True)
    con.execute(f"attach '{str(aside).replace(chr(39), chr(39) * 2)}' as edition")
    try:
        for table, order in tables.items():
            con.execute(
                f"create table edition.{table} as select * from results.{table} order by {order}"
            )
        con.execute("create unique index ranking_place on edition.ranking (service_point)")
        con.execute("checkpoint edition")
    finally:
        with contextlib.suppress(duckdb.Error):  # after a full disk the detach fails as well
            con.execute("detach edition")


def _point(store: Path, name: str) -> None:
    """Replace the pointer in one step."""
    aside = store / f"{POINTER}.tmp"
    aside.write_text(name + "\n", encoding="ascii")
    _sync(aside)
    os.replace(aside, store / POINTER)
    _sync(store)


def _sync(path: Path) -> None:
    """Flush a file or folder to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _plain(exc: BaseException) -> str:
    """Return the reason without the path of a machine."""
    text = exc.strerror or "disk error" if isinstance(exc, OSError) else str(exc)
    return re.sub(r"(['\"]?)/\S+\1", "file", text.splitlines()[0]) + "."
