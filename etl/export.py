"""Write one published table to a file that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import difflib
from pathlib import Path

import duckdb

from etl.errors import InputError, StoreError
from etl.load.publish import current_edition
from etl.sheets import Batches, csv_lines, write_workbook


def open_edition(store: Path) -> duckdb.DuckDBPyConnection:
    """Open the current edition for reading.

    Raises
    ------
    StoreError
        There is no edition, or its file is damaged or made by a newer database version.
    """
    path = current_edition(store)
    try:
        return duckdb.connect(str(path), read_only=True)
    except duckdb.Error as exc:
        raise StoreError(
            f"{path.name}: not readable as an edition of this version. "
            "Load the logs again to rebuild it."
        ) from exc


def export_table(store: Path, table: str, out: Path) -> int:
    """Write a published table as CSV, XLSX or Parquet, chosen by the file's ending.

    Parameters
    ----------
    store : Path
        Folder of the store.
    table : str
        Name of a published table.
    out : Path
        File to write; replaced when it exists.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    InputError
        No such table (the nearest name is given), or an ending that is not known.
    StoreError
        There is no edition to read.
    """
    writers = {".csv": _write_csv, ".xlsx": _write_workbook, ".parquet": _write_parquet}
    writer = writers.get(out.suffix.lower())
    if writer is None:
        raise InputError(f"{out.name}: ending must be one of {', '.join(writers)}.")
    if not out.parent.is_dir():
        raise InputError(f"{out.name}: its folder does not exist. Make it first.")
    with open_edition(store) as con:
        names = [row[0] for row in con.execute("select table_name from duckdb_tables() order by 1")
                 .fetchall()]
        if table not in names:
            near = difflib.get_close_matches(table, names, 1)
            hint = f"Did you mean {near[0]!r}?" if near else f"Published: {', '.join(names)}."
            raise InputError(f"no published table {table!r}. {hint}")
        writer(con, table, out)
        return int(con.execute(f'select count(*) from "{table}"').fetchall()[0][0])


def _quoted(out: Path) -> str:
    return "'" + str(out).replace("'", "''") + "'"


def _rows(con: duckdb.DuckDBPyConnection, table: str) -> tuple[list[str], Batches]:
    """Return the columns and the rows in pieces; the name was checked by the caller."""
    result = con.execute(f'select * from "{table}"')
    names = [column[0] for column in result.description or ()]
    return names, iter(lambda: result.fetchmany(10_000), [])


def _write_csv(con: duckdb.DuckDBPyConnection, table: str, out: Path) -> None:
    with out.open("w", encoding="utf-8", newline="") as file:
        file.writelines(csv_lines(*_rows(con, table)))


def _write_workbook(con: duckdb.DuckDBPyConnection, table: str, out: Path) -> None:
    with out.open("wb") as file:
        write_workbook(file, table, *_rows(con, table))


def _write_parquet(con: duckdb.DuckDBPyConnection, table: str, out: Path) -> None:
    con.execute(f'copy "{table}" to {_quoted(out)} (format parquet)')
