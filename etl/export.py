"""Write one published table to a file that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import difflib
from pathlib import Path

import duckdb
import xlsxwriter

from etl.errors import InputError, StoreError
from etl.load.publish import current_edition

DANGEROUS_START = "^[=+\\-@\\t\\r]"
"""A text cell that begins like this would run as a formula; an apostrophe is set before it."""

SHEET_ROWS = 1_048_575
"""Rows that one worksheet holds below its header."""


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


def _columns(con: duckdb.DuckDBPyConnection, table: str) -> list[tuple[str, str]]:
    """Return name and type of each column in order."""
    return con.execute(
        "select column_name, data_type from duckdb_columns() where table_name = ? "
        "order by column_index", [table],
    ).fetchall()


def _quoted(out: Path) -> str:
    return "'" + str(out).replace("'", "''") + "'"


def _safe_select(con: duckdb.DuckDBPyConnection, table: str) -> str:
    """Return a query whose text cells cannot run as formulas; lists become readable text."""
    parts = []
    for name, kind in _columns(con, table):
        if kind.endswith("[]"):
            parts.append(f'array_to_string("{name}", \', \') as "{name}"')
        elif kind == "VARCHAR":
            parts.append(
                f"case when regexp_matches(\"{name}\", '{DANGEROUS_START}') "
                f"then '''' || \"{name}\" else \"{name}\" end as \"{name}\""
            )
        else:
            parts.append(f'"{name}"')
    return f'select {", ".join(parts)} from "{table}"'


def _write_csv(con: duckdb.DuckDBPyConnection, table: str, out: Path) -> None:
    con.execute(f"copy ({_safe_select(con, table)}) to {_quoted(out)} (format csv, header true)")


def _write_parquet(con: duckdb.DuckDBPyConnection, table: str, out: Path) -> None:
    con.execute(f'copy "{table}" to {_quoted(out)} (format parquet)')


def _write_workbook(con: duckdb.DuckDBPyConnection, table: str, out: Path) -> None:
    """Write worksheets of at most `SHEET_ROWS` rows; text stays text."""
    options = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False,
               "nan_inf_to_errors": True, "default_date_format": "yyyy-mm-dd"}
    names = [name for name, _ in _columns(con, table)]
    with xlsxwriter.Workbook(str(out), options) as book:
        result = con.execute(_safe_select(con, table))
        more, number = True, 1
        while more:
            sheet = book.add_worksheet(table[:25] if number == 1 else f"{table[:25]} {number}")
            sheet.write_row(0, 0, names)
            more = _fill(sheet, result)
            number += 1


def _fill(sheet: xlsxwriter.worksheet.Worksheet, result: duckdb.DuckDBPyConnection) -> bool:
    """Write rows until the sheet is full (True) or the result ends (False)."""
    at = 1
    while at <= SHEET_ROWS:
        rows = result.fetchmany(min(10_000, SHEET_ROWS + 1 - at))
        if not rows:
            return False
        for row in rows:
            sheet.write_row(at, 0, row)
            at += 1
    return True
