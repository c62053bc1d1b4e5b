"""Editions of a store, opened read-only within bounds; follows the pointer at every request."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb

from dashboard.queries.answers import Answers
from dashboard.queries.bounds import Watch

POINTER = "current"
NAME = re.compile(r"edition-\d{6}\.duckdb")
LOCKED: dict[str, Any] = {
    "enable_external_access": "false",
    "python_enable_replacements": "false",
    "memory_limit": "1GB",
    "temp_directory": "",
    "threads": "1",
    "async_threads": "0",
    "lock_configuration": "true",
}
"""Set while opening, so that a second connection of the process finds the same configuration.
What needs more memory is stopped, never written to the disk of the store: it may be read-only.
A question runs in the thread that asks it: requests beside it keep the other cores busy, and an
edition that is put aside has no threads of its own to wait for, which was seen to last for ever."""
LONGEST_S = 10.0
"""For a question, a hundred times what one takes in a fleet of 100,000 places."""
LONGEST_DOWNLOAD_S = 60.0
"""Until the first rows of a whole table in order."""
TRY_AGAIN = ("was stopped, so that others can go on reading. Ask for less at once, or try again in "
             "a minute.")
REBUILD = "Run `braidlife load` to build a new one from the logs in the store."


class EditionError(Exception):
    """The store holds no edition that can be read; the message says what to do."""

    title = "There is nothing to show yet."


class NoEditionError(EditionError):
    """Nothing has been loaded into the store yet."""


class OverBoundError(EditionError):
    """A question took more time or memory than one may."""

    title = "This was stopped."


WATCH = Watch()


@contextmanager
def bounded(connection: duckdb.DuckDBPyConnection, seconds: float) -> Iterator[None]:
    """Let a connection answer within the bounds.

    Raises
    ------
    OverBoundError
        It would have taken more time or memory; the connection can be used again.
    """
    try:
        with WATCH.limit(seconds, connection.interrupt):
            yield
    except duckdb.InterruptException as exc:
        raise OverBoundError(f"A question that took longer than {seconds:g} seconds {TRY_AGAIN}"
                             ) from exc
    except duckdb.OutOfMemoryException as exc:
        raise OverBoundError(f"A question that needed too much memory {TRY_AGAIN}") from exc


@dataclass
class Opened:
    """One edition, open for reading, and what was asked of it before."""

    name: str
    connection: duckdb.DuckDBPyConnection
    answers: Answers = field(default_factory=Answers)
    kept: dict[str, Any] = field(default_factory=dict)
    """What a question module has worked out of the whole edition."""


class Editions:
    """The editions of one store; follows the pointer file at every request.

    Parameters
    ----------
    store : Path
        Folder of the store.
    """

    def __init__(self, store: Path) -> None:
        """Remember the folder; nothing is opened yet."""
        self.store = store
        self._lock = threading.Lock()
        self._opened: Opened | None = None
        self.when_opened: Callable[[], object] = lambda: None
        """Called when a new edition has been opened; must not wait for it."""

    def current(self) -> Opened:
        """Return the current edition, opened.

        Raises
        ------
        EditionError
            Nothing is published, or the file is not an edition of this version.
        """
        with self._lock:
            while (opened := self._opened) is None or opened.name != self._current_name():
                name = self._current_name()
                try:
                    # The older connection is dropped, not closed: a request may still read it.
                    self._opened = Opened(name, self._open(name))
                    self.when_opened()
                except EditionError:
                    # A load may have replaced the edition between reading its name and opening it.
                    if name == self._current_name():
                        raise
            return opened

    def others(self) -> list[Path]:
        """Return the files of the editions kept beside the current one, the newest first."""
        kept = sorted((self.store / "editions").glob("edition-*.duckdb"), reverse=True)
        return [path for path in kept if path.name != self._current_name()]

    @contextmanager
    def reading(self, path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield an edition that is not the current one, for a few questions.

        Raises
        ------
        EditionError
            It cannot be read, or lacks what is asked.
        """
        try:
            with duckdb.connect(str(path), read_only=True, config=LOCKED) as connection, bounded(
                    connection, LONGEST_S):
                yield connection
        except duckdb.Error as exc:
            raise EditionError(f"{path.name} cannot be read as an edition.") from exc

    def forget(self) -> None:
        """Open the edition anew at the next question, because its file was found damaged."""
        with self._lock:
            self._opened = None

    def _current_name(self) -> str:
        try:
            text = (self.store / POINTER).read_text(encoding="ascii", errors="replace").strip()
        except FileNotFoundError as exc:
            raise NoEditionError(
                "The store holds no edition yet. Load logs with `braidlife load PATH`."
            ) from exc
        except OSError as exc:
            raise EditionError(
                f"The store cannot be read ({exc.strerror}). Give the user that serves the pages "
                "the right to read it; nothing has to be loaded again."
            ) from exc
        if NAME.fullmatch(text) is None:
            raise EditionError(f"The store's pointer names no edition. {REBUILD}")
        return text

    def _open(self, name: str) -> duckdb.DuckDBPyConnection:
        path = self.store / "editions" / name
        try:
            connection = duckdb.connect(str(path), read_only=True, config=LOCKED)
            connection.execute("select edition, as_of, currency from edition").fetchall()
        except duckdb.Error as exc:
            raise EditionError(f"{name} cannot be read as an edition. {REBUILD}") from exc
        return connection
