"""Tiny logs typed into a test, and the layers made from them."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Sequence
from typing import Any

import duckdb

from etl.load.columns import LOGS
from etl.load.mapping import TypingOptions
from etl.load.typing import build_clean, build_lives
from etl.load.warehouse import connect, files_of, run_layer

AS_OF = dt.date(2025, 1, 1)
ONE_PLACE = "service_point,application_class\nP1,steam"


def day(text: str) -> dt.date:
    """Return a day from ISO text."""
    return dt.date.fromisoformat(text)


def raw_logs(con: duckdb.DuckDBPyConnection, logs: dict[str, str | Sequence[str]],
             loads: Sequence[dict[str, Any]] = ()) -> None:
    """Make the raw layer as the reader makes it; `loads` overrides facts about each file."""
    run_layer(con, "raw")
    for name, log in LOGS.items():
        columns = ", ".join(f"{column} varchar" for column in log.names)
        con.execute(f"create table raw.{name} (load_id integer, entry_no integer, "
                    f"source_row bigint, {columns}, other_cells varchar)")
    load_id = 0
    for name, texts in logs.items():
        for text in [texts] if isinstance(texts, str) else texts:
            load_id += 1
            facts = {"source_file": f"{name}_{load_id}.csv", "loaded_on": "2025-01-01",
                     "exported_on": None, "typing_group": 1}
            facts |= loads[load_id - 1] if load_id <= len(loads) else {}
            head, *rows = list(csv.reader(text.strip().splitlines()))
            con.execute(
                "insert into raw.loads "
                "values (?, ?, ?, 1, ?, 0, ?, ?, ?, 0, 0, 0, 0, 'loaded', null, ?)",
                [load_id, facts["source_file"], name, str(load_id), facts["loaded_on"],
                 facts["exported_on"], len(rows), facts["typing_group"]])
            marks = ", ".join("?" * len(head))
            for number, row in enumerate(rows, start=2):
                con.execute(
                    f"insert into raw.{name} (load_id, entry_no, source_row, {', '.join(head)}) "
                    f"values (?, 1, ?, {marks})",
                    [load_id, number, *(cell or None for cell in row)])


def build(as_of: dt.date | None = AS_OF, options: TypingOptions | None = None,
          loads: Sequence[dict[str, Any]] = (), lenient: Sequence[str] = (), threads: int = 1,
          **logs: str | Sequence[str]) -> duckdb.DuckDBPyConnection:
    """Return a database with the layers made from logs, each a text or one text a file."""
    con = connect(threads=threads)
    raw_logs(con, logs, loads)
    build_lives(con, build_clean(con, {1: options or TypingOptions()}, as_of), lenient)
    return con


def rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    """Return the rows of a query."""
    return con.execute(query).fetchall()


def left_out(con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    """Return log, row, column, value and reason of every cell left out of a row that stays."""
    assert faulty(con, "clean_balance") == []
    return rows(con, "select log, source_row, column_name, value, reason from clean.refused_cells "
                     "order by log, load_id, source_row, column_name, reason")


def faulty(con: duckdb.DuckDBPyConnection, check: str, **values: Any) -> list[tuple[Any, ...]]:
    """Return the rows that break one of the checks, with the values that it asks for."""
    (file,) = [file for file in files_of("checks") if file.stem == check]
    text = file.read_text(encoding="utf-8")
    asked = {name: value for name, value in values.items() if f"${name}" in text}
    return con.execute(text, asked).fetchall()


def refused(con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    """Return log, row, column, value and reason of every refused cell, once balance is proven."""
    assert faulty(con, "clean_balance") == []
    assert faulty(con, "clean_refused_reason") == []
    return rows(con, "select log, source_row, column_name, value, reason from clean.refused "
                     "order by log, load_id, source_row, column_name, reason")
