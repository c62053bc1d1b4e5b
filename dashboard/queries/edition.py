"""The published edition, opened read-only: the one place where pages touch the database.

One connection per edition and process, one cursor per request. External access is off and the
configuration locked, so a question can only read the edition's own tables. Statements are
constants of this package; whatever a browser sends is a bound value, or picks one of the listed
columns by name.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import duckdb
import flask

from dashboard.queries.answers import Answers, LackingError, Told
from dashboard.queries.answers import Row as Row
from dashboard.queries.opened import LONGEST_DOWNLOAD_S, LONGEST_S, REBUILD, bounded
from dashboard.queries.opened import NAME as NAME
from dashboard.queries.opened import EditionError as EditionError
from dashboard.queries.opened import Editions as Editions
from dashboard.queries.opened import OverBoundError as OverBoundError

CONFIG_KEY = "BRAIDLIFE_EDITIONS"
NO_CURRENCY = "currency units"
"""Stands for the currency where no mapping declares one."""
LACKING = "This page needs an edition of this version."
"""Title of a page that asks for what the edition does not have."""
UNREADABLE = f"The edition's file is damaged or cannot be read. {REBUILD}"
DAMAGED = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException,
           duckdb.SerializationException)


def install(app: flask.Flask, store: Path) -> None:
    """Let the pages of an app read the editions of a store; nothing is opened yet."""
    app.config[CONFIG_KEY] = Editions(store)

    @app.teardown_appcontext
    def close_cursor(_: BaseException | None) -> None:
        cursor = flask.g.pop("edition_cursor", None)
        if cursor is not None:
            cursor.close()


@contextmanager
def as_if_empty(app: flask.Flask) -> Iterator[None]:
    """Let an app answer as if its store held no edition, and open none."""
    shown: Editions = app.config[CONFIG_KEY]
    app.config[CONFIG_KEY] = Editions(Path(os.devnull))
    try:
        yield
    finally:
        app.config[CONFIG_KEY] = shown


def store() -> Path:
    """Return the store whose editions this app shows."""
    editions: Editions = flask.current_app.config[CONFIG_KEY]
    return editions.store


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
        with bounded(opened_cursor, LONGEST_S):
            rows = as_rows(opened_cursor.execute(statement, given))
        answers.keep(question, rows)
    return rows


def as_rows(result: duckdb.DuckDBPyConnection) -> list[Row]:
    """Return the rows of a result, one dict a row."""
    names = [column[0] for column in result.description or ()]
    return [Told(zip(names, row, strict=True)) for row in result.fetchall()]


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
    request has ended; of the edition that the request began with.
    """
    cursor()
    own = flask.g.edition_opened.connection.cursor()
    with bounded(own, LONGEST_DOWNLOAD_S):
        own.execute(statement, values)
    names = [column[0] for column in own.description or ()]

    def batches() -> Iterator[list[tuple[Any, ...]]]:
        try:
            while batch := _fetched(own):
                yield batch
        finally:
            own.close()

    return names, batches()


def _fetched(own: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    with bounded(own, LONGEST_DOWNLOAD_S):
        return own.fetchmany(1000)


def info() -> Row:
    """Return the edition's own row: number, data date, currency, counts."""
    try:
        row = ask_one(
            """select edition, as_of, currency, software_version, n_service_points, n_in_service,
            n_lives, n_failures, n_refused, n_excluded, first_installed_on, confidence,
            late_failures, late_failures_lower, late_failures_upper, on_record_in_month,
            months_until_on_record from edition"""
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
    if is_older(fault):
        return (
            "The edition was made by another version of Braidlife and lacks something that this "
            f"page shows. {REBUILD}"
        )
    if isinstance(fault, DAMAGED) or type(fault) is duckdb.Error:  # without a kind: rubbish read
        flask.current_app.config[CONFIG_KEY].forget()
        return UNREADABLE
    return None


def is_older(fault: BaseException) -> bool:
    """Tell whether a fault means that another version made the edition."""
    return isinstance(fault, (duckdb.CatalogException, duckdb.BinderException, LackingError))


def method(key: str) -> Row:
    """Return key, title and words of a published method note; empty where there is none."""
    row = ask_one("select key, title, words from method_notes where key = ?", [key])
    return row or {"key": "", "title": "", "words": ""}
