"""Tables of the layers that have no row unless others have: then their columns alone are made.

To plan a statement costs more than to run it over few rows; to make an empty table costs little.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

import duckdb

from etl.load.folders import MAPPING
from etl.load.row_faults import UNKNOWN_POINT
from etl.load.warehouse import files_of, run_file, run_text

FINDING = ("finding varchar, service_point varchar, hose_id varchar, load_id integer,"
           " source_row bigint, happened_on date, detail varchar")
FAULT = ("log varchar, load_id integer, entry_no integer, source_row bigint, column_name varchar,"
         " value varchar, reason varchar")
TRUE_ALONE = "'removal without installation', 'tag mismatch'"
"""Causes of removals that are true although they pair with nothing; by any other the statement of
``clean.impossible`` is run and judges itself."""
UNLESS = {
    "clean.impossible": (
        f"clean.unpaired where cause not in ({TRUE_ALONE})",
        "log varchar, row_no bigint, load_id integer, entry_no integer, source_row bigint,"
        " column_name varchar, value varchar, reason varchar, cause varchar,"
        " installation_no bigint, service_point varchar, hose_id varchar, removed_on date,"
        " beside varchar"),
    "clean.unknown_places": (
        f"clean.row_faults where reason = '{UNKNOWN_POINT}'",
        "log varchar, typing_group integer, value varchar, remedy varchar"),
    "clean.conflicts": ("clean.fates where fate = 'conflict'", FAULT),
    "clean.refused_cells": (
        "clean.cell_faults",
        "log varchar, load_id integer, entry_no integer, source_file varchar, source_row bigint,"
        " column_name varchar, value varchar, reason varchar, remedy varchar"),
    "clean.corrected_cells": (
        "clean.refused_cells",
        "load_id integer, entry_no integer, source_file varchar, column_name varchar,"
        " what varchar, n_cells bigint, example varchar"),
    "lives.carried": (
        "lives.returning",
        "installation_no bigint, hose_id varchar, alone_no bigint, nth bigint, statement bigint,"
        " age_days double"),
    "lives.swaps_beside_rows": (f"raw.loads where source_file = '{MAPPING}'", FINDING),
    "lives.equal_rows": (
        "lives.orphans where hose_id is null", "removal_no bigint, installed_on date"),
    "lives.hoses_in_two_places": ("lives.carried", FINDING),
    "lives.lost_ages": ("lives.orphans where hose_id is not null", FINDING),
    "lives.stays_after_retirement": ("clean.points where retired_on is not null", FINDING),
}
"""Table -> the rows without which it has none, and its columns."""


def run_needed(con: duckdb.DuckDBPyConnection, layer: str, left_out: Collection[str] = (), /,
               **params: Any) -> None:
    """Run the SQL files of a layer, but no needless ones; else as `warehouse.run_layer` does."""
    batch: list[Path] = []
    for file in files_of(layer):
        if _name(file) in left_out:
            continue
        rows, _ = UNLESS.get(_table(file), ("", ""))
        if not rows or any(_table(other) in rows for other in batch):
            _run(con, batch, params)
            batch = []
        if rows:
            batch.append(file)
        else:
            run_file(con, file, params)
    _run(con, batch, params)


def made_empty(con: duckdb.DuckDBPyConnection, table: str) -> bool:
    """Make a table of `UNLESS` where it has no row; False where its own statement has to.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    table : str
        With its schema.
    """
    is_needed = _are_needed(con, [table])[0]
    if not is_needed:
        run_text(con, f"create or replace table {table} ({UNLESS[table][1]})")
    return not is_needed


def _run(con: duckdb.DuckDBPyConnection, files: Sequence[Path], params: dict[str, Any]) -> None:
    """Run files of `UNLESS` in their order, as far as they are needed."""
    tables = [_table(file) for file in files]
    for file, table, is_needed in zip(files, tables, _are_needed(con, tables), strict=True):
        if is_needed:
            run_file(con, file, params)
        else:
            run_text(con, f"create or replace table {table} ({UNLESS[table][1]})")


def _are_needed(con: duckdb.DuckDBPyConnection, tables: Sequence[str]) -> Sequence[bool]:
    """Tell of each table whether it can have rows: asked at once, which costs little more."""
    if not tables:
        return ()
    asked = ", ".join(f"exists (from {UNLESS[table][0]})" for table in tables)
    return con.execute(f"select {asked}").fetchall()[0]


def _name(file: Path) -> str:
    """Return the name of the table that a file makes."""
    return file.stem.split("_", 1)[-1]


def _table(file: Path) -> str:
    """Return that name with its schema."""
    return f"{file.parent.name}.{_name(file)}"
