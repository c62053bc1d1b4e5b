"""Say why no edition can be made of logs: which files were refused, which rows, and what to do."""

from __future__ import annotations

import duckdb

from etl.errors import InputError
from etl.load.columns import LOGS

MOST_FILES = 8
"""Refused files that are told one by one; the others are counted."""
LOOK = ("`braidlife check` with the file or folder lists every fault and proposes a mapping"
        " (--write puts it into columns.toml).")
ADD_DAYS = "Add installations or replacements, or give --as-of."


def stop_where_nothing_loaded(con: duckdb.DuckDBPyConnection) -> None:
    """Stop where no file of the store could be read into a log.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds the raw layer.

    Raises
    ------
    InputError
        Every file was refused: each one is named with its reason.
    """
    counts = dict(con.execute("select status, count(*) from raw.loads group by status").fetchall())
    if "refused" in counts and "loaded" not in counts:
        raise InputError("\n".join(["nothing could be loaded.", *_refused_files(con), LOOK]))


def no_day(con: duckdb.DuckDBPyConnection) -> InputError:
    """Return the error of logs in which no day can be read.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds the raw layer, and ``clean.<log>_cells`` as far as logs were typed.
    """
    why = [*_refused_files(con), *_refused_rows(con)]
    return InputError("\n".join(
        ["logs: no readable date in any of them.", *why, LOOK if why else ADD_DAYS]))


def _refused_files(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the message of each refused file; the first ones, then how many more there are."""
    found = con.execute("select message from raw.loads where status = 'refused' group by message"
                        " order by min(load_id), message").fetchall()
    lines = [f"Not loaded: {message}" for message, in found[:MOST_FILES]]
    more = len(found) - MOST_FILES
    return lines + ([f"and {more:,} more."] if more > 0 else [])


def _refused_rows(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return how many rows of each log are refused, with the first fault."""
    typed = {name for name, in con.execute(
        "select table_name from duckdb_tables() where schema_name = 'clean'").fetchall()}
    parts = [f"select load_id, entry_no, source_row, reasons[1].column_name as column_name,"
             f" reasons[1].value as value, reasons[1].reason as reason from clean.{log}_cells"
             " where reasons is not null" for log in LOGS if f"{log}_filled" in typed]
    parts.append("select load_id, entry_no, source_row, column_name, value, reason"
                 " from raw.unreadable")
    found = con.execute(
        "select count(*), arg_min(row(l.source_file, r.source_row, coalesce(r.column_name,"
        " 'the row'), coalesce(r.value, ''), r.reason), (r.load_id, r.entry_no, r.source_row))"
        f" from ({' union all '.join(parts)}) as r join raw.loads as l using (load_id, entry_no)"
        " group by l.log order by min((r.load_id, r.entry_no))").fetchall()
    return [f"{n:,} {'row is' if n == 1 else 'rows are'} refused, the first one:"
            f" {file} row {number}: {column} {value!r} {reason}."
            for n, (file, number, column, value, reason) in found]
