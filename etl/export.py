"""Write one table to a file that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import contextlib
import difflib
import os
import shutil
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import duckdb

from etl import sheets
from etl.counted import counted
from etl.errors import InputError, StoreError
from etl.load import typing, warehouse
from etl.load.columns import LOGS
from etl.load.kept import drop
from etl.load.publish import REBUILD, current_edition, store_lock
from etl.load.raw import load_raw
from etl.load.store_faults import plain
from etl.sheets import CELL_LIMIT, Batches, Sheet, book, csv_lines

CLEAN = "clean."
"""Before the name of a log: its rows as they are used, not part of an edition."""
Writer = Callable[[duckdb.DuckDBPyConnection, str, Path, str], None]


@contextlib.contextmanager
def open_edition(store: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the current edition for reading.

    Raises
    ------
    StoreError
        There is no edition, or its file is damaged or made by a newer database version.
    """
    path = current_edition(store)
    try:
        with duckdb.connect(str(path), read_only=True) as con:
            yield con
    except duckdb.Error as exc:
        raise StoreError(
            f"{path.name}: damaged, or made by another version ({plain(exc)}). {REBUILD}"
        ) from exc


def export_table(store: Path, table: str, out: Path,
                 tell: Callable[[str], None] = lambda _: None) -> int:
    """Write a table as CSV, XLSX or Parquet, chosen by the file's ending.

    Parameters
    ----------
    store : Path
        Folder of the store.
    table : str
        Name of a published table, or ``clean.<log>`` for the rows of a log as they are used.
    out : Path
        File to write; replaced, once it is complete, when it exists.
    tell : callable
        Told in a sentence what a workbook could not hold as it is.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    InputError
        No such table (the nearest name is given), an ending that is not known, or a file that
        cannot be written.
    StoreError
        There is no edition to read, or it is damaged.

    Notes
    -----
    Parquet keeps values and types as they are. In CSV an unknown value is nothing and an empty
    text is ``""``. Texts that would run as formulas begin with one more apostrophe in CSV and
    XLSX, whether or not they began with apostrophes before; in CSV so do their parts behind a
    semicolon, a tab or a line end, where some spreadsheets begin a new cell. A load of such a file
    takes them off again (`etl.load.own_export`).
    """
    writers: dict[str, Writer] = {
        ".csv": _write_csv, ".xlsx": partial(_write_workbook, tell=tell),
        ".parquet": _write_parquet}
    writer = writers.get(out.suffix.lower())
    if writer is None:
        raise InputError(f"{out.name}: ending must be one of {', '.join(writers)}.")
    if not out.parent.is_dir():
        raise InputError(f"{out.name}: its folder does not exist. Make it first.")
    with open_edition(store) as con:
        names = [row[0] for row in con.execute("select table_name from duckdb_tables() order by 1")
                 .fetchall()]
        if table in names:
            return _write(con, f'select * from "{table}"', writer, out, table)
    if table not in [CLEAN + log for log in LOGS]:
        names += [CLEAN + log for log in LOGS]
        near = difflib.get_close_matches(table, names, 1)
        hint = f"Did you mean {near[0]!r}?" if near else f"Published: {', '.join(names)}."
        raise InputError(f"no published table {table!r}. {hint}")
    return _export_log(store, table.removeprefix(CLEAN), writer, out)


def _export_log(store: Path, log: str, writer: Writer, out: Path) -> int:
    """Read the archive as the edition did and write the rows of one log."""
    with open_edition(store) as edition:
        as_of = edition.execute("select as_of from edition").fetchall()[0][0]
    with store_lock(store):
        con = warehouse.connect(temp=store / "work.spill")
        try:
            typing.build_clean(con, load_raw(con, store), as_of)
            return _write(
                con, f"select source_file, rows.* exclude (load_id, entry_no) from clean.{log} as "
                "rows join raw.loads using (load_id, entry_no) "
                "order by load_id, source_row, entry_no", writer, out, log)
        finally:
            con.close()


def _write(con: duckdb.DuckDBPyConnection, query: str, writer: Writer, out: Path,
           title: str) -> int:
    """Write the rows of a query aside and put the file in place when it is whole."""
    aside = out.with_name(f"{out.name}.part")
    try:
        writer(con, query, aside, title)
        os.replace(aside, out)
    except (OSError, duckdb.IOException) as exc:
        if isinstance(exc, duckdb.IOException) and str(aside) not in str(exc):
            raise
        raise InputError(
            f"{out.name}: could not be written ({plain(exc)}). Choose another place with --out, or"
            " make room there."
        ) from exc
    finally:
        drop(aside)
    return int(con.execute(f"select count(*) from ({query})").fetchall()[0][0])


def _quoted(out: Path) -> str:
    return "'" + str(out).replace("'", "''") + "'"


def _rows(con: duckdb.DuckDBPyConnection, query: str) -> tuple[list[str], Batches]:
    """Return the columns and the rows in pieces."""
    result = con.execute(query)
    names = [column[0] for column in result.description or ()]
    return names, iter(lambda: result.fetchmany(10_000), [])


def _write_csv(con: duckdb.DuckDBPyConnection, query: str, out: Path, _: str) -> None:
    with out.open("w", encoding="utf-8", newline="") as file:
        file.writelines(csv_lines(*_rows(con, query)))


def _write_workbook(
    con: duckdb.DuckDBPyConnection, query: str, out: Path, title: str,
    tell: Callable[[str], None],
) -> None:
    sheet = Sheet(title, *_rows(con, query))
    with book([sheet]) as made, out.open("wb") as file:
        shutil.copyfileobj(made, file)
    n_rows = con.execute(f"select count(*) from ({query})").fetchall()[0][0]
    if n_rows > sheets.SHEET_ROWS:
        tell(f"{n_rows:,} rows are more than a worksheet holds: they go on in the next sheets."
             " To load them again, write .csv or .parquet; a load reads one sheet.")
    if sheet.cut:
        columns = ", ".join(f"{name} ({n:,})" for name, n in sorted(sheet.cut.items()))
        n_texts = sheet.cut.total()
        tell(f"{counted(n_texts, 'text')} longer than the {CELL_LIMIT:,} characters of a"
             f" worksheet's cell, cut there and marked by …: {columns}. A .csv or .parquet file"
             " holds all of it.")


def _write_parquet(con: duckdb.DuckDBPyConnection, query: str, out: Path, _: str) -> None:
    con.execute(f"copy ({query}) to {_quoted(out)} (format parquet)")
