"""Run packaged SQL: one file, one layer or the checks, against the work database.

The only place, beside the readers of files, that executes SQL text in the loading half.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import duckdb

from etl.errors import CheckError, InputError
from etl.paths import resource

LAYERS = ("seeds", "raw", "clean", "lives", "fit", "results")
PARAMETER = re.compile(r"(?<![$\w])\$([A-Za-z_]\w*)")
"""A named parameter; ``$$`` and ``$1`` are not."""
NO_CODE = re.compile(r"--[^\n]*|'(?:[^']|'')*'")
"""Comments and text literals, in which a ``$name`` is no parameter."""
ROWS_SHOWN = 5
COUNTED_SHARE = 0.85
"""Part of a limit that is told to the database, which takes some hundred megabytes more than it
counts; so the whole process stays within 200 MiB of the limit (3 and 10 million stays, spilling).
"""


def connect(path: Path | None = None, *, memory_bytes: int | None = None,
            threads: int | None = None, temp: Path | None = None,
            temp_bytes: int | None = None) -> duckdb.DuckDBPyConnection:
    """Open a work database in which nothing depends on the machine's defaults.

    Parameters
    ----------
    path : Path or None
        File of the database; None keeps it in memory.
    memory_bytes, threads, temp, temp_bytes : optional
        Limits of memory, threads, and folder and size of spilled data.

    Returns
    -------
    duckdb.DuckDBPyConnection
        A connection in UTC with one schema for each layer.
    """
    config: dict[str, Any] = {"TimeZone": "UTC", "autoinstall_known_extensions": "false"}
    if memory_bytes is not None:
        config["memory_limit"] = f"{max(1, int(COUNTED_SHARE * memory_bytes) // 1_000_000)}MB"
    if threads is not None:
        config["threads"] = threads
    if temp is not None:
        config["temp_directory"] = str(temp)
    if temp_bytes is not None:
        config["max_temp_directory_size"] = f"{max(1, temp_bytes // 1_000_000)}MB"
    con = duckdb.connect(":memory:" if path is None else str(path), config=config)
    # The work database is thrown away: checkpoints in between would only cost time.
    con.execute("set checkpoint_threshold = '1TB'")
    # Where Python was started without a file it would draw bars between the lines of its caller.
    con.execute("set enable_progress_bar = false")
    for layer in LAYERS:
        con.execute(f"create schema if not exists {layer}")
    return con


@lru_cache(maxsize=1024)
def parameters(statement: str) -> frozenset[str]:
    """Return the names of the ``$parameters`` that a statement uses.

    Examples
    --------
    >>> sorted(parameters("select $as_of, '$not' -- $nor"))
    ['as_of']
    """
    return frozenset(PARAMETER.findall(NO_CODE.sub(" ", statement)))


def run_text(con: duckdb.DuckDBPyConnection, statement: str, **params: Any) -> None:
    """Execute one statement, handing over only the parameters that it names.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    statement : str
        SQL that the project wrote or generated from its own catalogue, never a user's text.
    **params : Any
        Values; those the statement does not name are left aside.

    Raises
    ------
    InputError
        The statement names a parameter that was not given.
    """
    wanted = parameters(statement)
    missing = sorted(wanted - params.keys())
    if missing:
        raise InputError(f"SQL: parameter {missing[0]!r} is used but was not given.")
    con.execute(statement, {name: params[name] for name in sorted(wanted)})


def files_of(layer: str) -> list[Path]:
    """Return the SQL files of a layer in the order of their numbered names."""
    return sorted((resource("sql") / layer).glob("*.sql"), key=lambda file: file.name)


@cache
def text_of(file: Path) -> str:
    """Return the text of a packaged file; like code, it is read once by a process."""
    return file.read_text(encoding="utf-8")


def run_sql(con: duckdb.DuckDBPyConnection, name: str, **params: Any) -> None:
    """Run one packaged SQL file.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    name : str
        ``layer/NN_table``, with or without ``.sql``.
    **params : Any
        Values of its ``$names``; those it does not use are left aside.

    Raises
    ------
    InputError
        There is no such file, or a parameter is missing.
    """
    file = resource("sql") / f"{name.removesuffix('.sql')}.sql"
    if not file.is_file():
        raise InputError(f"{file.name}: no such packaged SQL file. Install again.")
    run_file(con, file, params)


def run_layer(con: duckdb.DuckDBPyConnection, layer: str, left_out: Collection[str] = (), /,
              **params: Any) -> None:
    """Run every SQL file of a layer in file order.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    layer : str
        Folder below ``sql``, such as ``"lives"``.
    left_out : collection of str
        Tables that stand already; their files are not run.
    **params : Any
        Values; each file gets those that it names.

    Raises
    ------
    InputError
        A parameter is missing.
    """
    for file in files_of(layer):
        if file.stem.split("_", 1)[-1] not in left_out:
            run_file(con, file, params)


def run_checks(con: duckdb.DuckDBPyConnection, **params: Any) -> None:
    """Run every rule in ``sql/checks``; each returns the rows that break it.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    **params : Any
        Values; each check gets those that it names.

    Raises
    ------
    CheckError
        Some rule returned rows: all broken rules, their counts and first rows are named.
    """
    broken = []
    for file in files_of("checks"):
        run_file(con, file, params)
        head = con.fetchmany(ROWS_SHOWN)
        if head:
            names = [column[0] for column in con.description or ()]
            rest = len(con.fetchall())
            shown = "; ".join(
                ", ".join(f"{key}={value!r}" for key, value in zip(names, row, strict=True))
                for row in head
            )
            broken.append(f"{file.stem}: {len(head) + rest} faulty rows, such as {shown}")
    if broken:
        raise CheckError(
            f"{len(broken)} of {len(files_of('checks'))} checks failed. " + " | ".join(broken)
            + ". Nothing was published."
        )


def run_file(con: duckdb.DuckDBPyConnection, file: Path, params: Mapping[str, Any]) -> None:
    """Execute a file's statement; an error names the file.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    file : Path
        One of `files_of`.
    params : mapping of str to Any
        Values of its ``$names``; those it does not use are left aside.

    Raises
    ------
    InputError
        A parameter is missing.
    """
    try:
        run_text(con, text_of(file), **params)
    except InputError as exc:
        raise InputError(f"{file.parent.name}/{file.name}: {exc}") from exc
    except duckdb.Error as exc:
        exc.add_note(f"in {file.parent.name}/{file.name}")
        raise
