"""The published edition, opened read-only: the one place where pages touch the database.

One connection per edition and process, one cursor per request. External access is off and the
configuration locked, so a question can only read the edition's own tables. Statements are
constants of this package; whatever a browser sends is a bound value, or picks one of the listed
columns by name.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb
import flask

from dashboard.queries.answers import Answers
from dashboard.queries.answers import Row as Row

POINTER = "current"
NAME = re.compile(r"edition-\d{6}\.duckdb")
CONFIG_KEY = "BRAIDLIFE_EDITIONS"
LOCKED: dict[str, Any] = {
    "enable_external_access": "false",
    "python_enable_replacements": "false",
    "lock_configuration": "true",
}
"""Set while opening, so that a second connection of the process finds the same configuration."""
NO_CURRENCY = "currency units"
"""Stands for the currency where no mapping declares one."""
REBUILD = "Run `braidlife load` to build a new one from the logs in the store."
UNREADABLE = f"The edition's file is damaged or cannot be read. {REBUILD}"
DAMAGED = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException,
           duckdb.SerializationException)


class EditionError(Exception):
    """The store holds no edition that can be read; the message says what to do."""


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
        self._store = store
        self._lock = threading.Lock()
        self._opened: Opened | None = None

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
                except EditionError:
                    # A load may have replaced the edition between reading its name and opening it.
                    if name == self._current_name():
                        raise
            return opened

    def others(self) -> list[Path]:
        """Return the files of the editions kept beside the current one, the newest first."""
        kept = sorted((self._store / "editions").glob("edition-*.duckdb"), reverse=True)
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
            with duckdb.connect(str(path), read_only=True, config=LOCKED) as connection:
                yield connection
        except duckdb.Error as exc:
            raise EditionError(f"{path.name} cannot be read as an edition.") from exc

    def forget(self) -> None:
        """Open the edition anew at the next question, because its file was found damaged."""
        with self._lock:
            self._opened = None

    def _current_name(self) -> str:
        try:
            text = (self._store / POINTER).read_text(encoding="ascii", errors="replace").strip()
        except FileNotFoundError as exc:
            raise EditionError(
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
        path = self._store / "editions" / name
        try:
            connection = duckdb.connect(str(path), read_only=True, config=LOCKED)
            connection.execute("select edition, as_of, currency from edition").fetchall()
        except duckdb.Error as exc:
            raise EditionError(f"{name} cannot be read as an edition. {REBUILD}") from exc
        return connection


def install(app: flask.Flask, store: Path) -> None:
    """Let the pages of an app read the editions of a store; nothing is opened yet."""
    app.config[CONFIG_KEY] = Editions(store)

    @app.teardown_appcontext
    def close_cursor(_: BaseException | None) -> None:
        cursor = flask.g.pop("edition_cursor", None)
        if cursor is not None:
            cursor.close()


def cursor() -> duckdb.DuckDBPyConnection:
    """Return the cursor of this request, opened at its first question."""
    if "edition_cursor" not in flask.g:
        flask.g.edition_opened = flask.current_app.config[CONFIG_KEY].current()
        flask.g.edition_cursor = flask.g.edition_opened.connection.cursor()
    return flask.g.edition_cursor


def ask(statement: str, values: Mapping[str, Any] | Sequence[Any] = ()) -> list[Row]:
    """Return the rows of a statement, one dict a row.

    Parameters
    ----------
    statement : str
        SQL, a constant of this package.
    values : mapping or sequence
        Bound values for ``$name`` or ``?``.

    Returns
    -------
    list of dict
        Column name to value; NULL is None.

    Notes
    -----
    Where the same was asked of this edition before, the answer comes from memory: totals, choices
    and first pages are the same at every request, and most of the time of a page of a large fleet.
    """
    opened_cursor, question = cursor(), (statement, repr(values))
    answers: Answers = flask.g.edition_opened.answers
    rows = answers.get(question)
    if rows is None:
        given = dict(values) if isinstance(values, Mapping) else values
        rows = as_rows(opened_cursor.execute(statement, given))
        answers.keep(question, rows)
    return rows


def as_rows(result: duckdb.DuckDBPyConnection) -> list[Row]:
    """Return the rows of a result, one dict a row."""
    names = [column[0] for column in result.description or ()]
    return [dict(zip(names, row, strict=True)) for row in result.fetchall()]


def ask_one(statement: str, values: Mapping[str, Any] | Sequence[Any] = ()) -> Row | None:
    """Return the first row of a statement, or None."""
    rows = ask(statement, values)
    return rows[0] if rows else None


def stream(
    statement: str, values: Sequence[Any] = ()
) -> tuple[list[str], Iterator[list[tuple[Any, ...]]]]:
    """Return the column names of a statement and its rows in batches.

    Notes
    -----
    The batches have a cursor of their own, because a download is still being sent when its
    request has ended.
    """
    own = flask.current_app.config[CONFIG_KEY].current().connection.cursor()
    own.execute(statement, values)
    names = [column[0] for column in own.description or ()]

    def batches() -> Iterator[list[tuple[Any, ...]]]:
        try:
            while batch := own.fetchmany(1000):
                yield batch
        finally:
            own.close()

    return names, batches()


def info() -> Row:
    """Return the edition's own row: number, data date, currency, counts."""
    try:
        row = ask_one(
            """select edition, as_of, currency, software_version, n_service_points, n_in_service,
            n_lives, n_failures, n_refused, n_excluded, first_installed_on, confidence
            from edition"""
        )
    except duckdb.Error as exc:
        raise EditionError(explain(exc) or UNREADABLE) from exc
    if row is None:
        raise EditionError(f"The edition is empty. {REBUILD}")
    return row | {"currency": row["currency"] or NO_CURRENCY}


def explain(fault: BaseException) -> str | None:
    """Return what a reader can do about an edition that does not answer, None for other faults.

    Notes
    -----
    A table or column that is not there means that another version made the edition. Anything
    else the database says of its file means damage; the file is then opened anew next time.
    """
    if isinstance(fault, EditionError):
        return str(fault)
    if isinstance(fault, (duckdb.CatalogException, duckdb.BinderException)):
        return (
            "The edition was made by another version of Braidlife and lacks something that this "
            f"page shows. {REBUILD}"
        )
    if isinstance(fault, DAMAGED):
        flask.current_app.config[CONFIG_KEY].forget()
        return UNREADABLE
    return None


def method(key: str) -> Row:
    """Return key, title and words of a published method note; empty where there is none."""
    row = ask_one("select key, title, words from method_notes where key = ?", [key])
    return row or {"key": "", "title": "", "words": ""}
