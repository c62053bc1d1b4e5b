"""Tables of the layers that have no row unless others have: then their columns alone are made.

To plan a statement costs more than to run it over few rows; to make an empty table costs little.
"""

from __future__ import annotations

from collections.abc import Collection
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
"""Causes of removals that are true although they pair with nothing."""
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
    """Run the SQL files of a layer as `etl.load.warehouse.run_layer`, but no needless ones.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    layer : str
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
        name = file.stem.split("_", 1)[-1]
        if name not in left_out and not made_empty(con, f"{layer}.{name}"):
            run_file(con, file, params)


def made_empty(con: duckdb.DuckDBPyConnection, table: str) -> bool:
    """Make a table of `UNLESS` where it has no row; False where its own statement has to.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    table : str
        Any table of the layers, with its schema.
    """
    rows, columns = UNLESS.get(table, ("", ""))
    if not rows or con.execute(f"select exists (from {rows})").fetchone() == (True,):
        return False
    run_text(con, f"create or replace table {table} ({columns})")
    return True
