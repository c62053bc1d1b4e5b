"""Check rows before they are kept: by the catalogue and the typing that loaded rows go through."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import duckdb

from etl.errors import InputError
from etl.load.columns import LOGS, Log
from etl.load.entered import Batch, Entered, insert_batch
from etl.load.mapping import TypingOptions
from etl.load.row_faults import REGISTERS
from etl.load.typing import type_alone
from etl.load.warehouse import connect, run_layer

MOST_ROWS = 200
"""A trial is decided in one entry, a row for each of its places."""
LONGEST_CELL = 2000
"""Signs; a note is a few sentences, not a file."""


@dataclass(frozen=True)
class Fault:
    """What is wrong with one cell of an entry, and what to do."""

    row: int
    column: str
    value: str | None
    reason: str
    remedy: str

    @property
    def words(self) -> str:
        """Return the fault as a sentence for whoever entered it."""
        shown = f" “{self.value}”" if self.value else ""
        return f"{self.column.replace('_', ' ')}{shown} {self.reason}. {self.remedy}"


@dataclass(frozen=True)
class Checked:
    """Rows as they would be typed, and what is wrong with them."""

    faults: tuple[Fault, ...]
    rows: tuple[dict[str, str], ...] = field(default=())
    """Typed values as text, in our units and words; empty cells left away."""


def check_rows(
    log: str, rows: Sequence[Mapping[str, str]], places: Iterable[str],
    latest: dt.date, options: TypingOptions | None = None,
) -> Checked:
    """Return what is wrong with rows, by the rules that loaded rows go through.

    Parameters
    ----------
    log : str
        Name of the log.
    rows : sequence of mapping
        Column of the log to text.
    places : iterable of str
        Service points that the register has; at least those that the rows name.
    latest : date
        No event can lie after it.
    options : TypingOptions or None
        How the cells are written; None for ISO days, decimal points and our own units.

    Returns
    -------
    Checked
        A cell that would be left out of its row counts as a fault too: whoever enters it is
        there to put it right.

    Raises
    ------
    InputError
        No such log or column, too many rows, or text that cannot be kept.
    """
    found = _log(log)
    _check_form(found, rows)
    entry = Entered("checked", "", f"{latest}T00:00", tuple(rows), {}, 1)
    with connect(threads=1) as con:
        run_layer(con, "raw")
        for each in (LOGS["service_points"], found):
            columns = ", ".join(f"{name} varchar" for name in (*each.names, "other_cells"))
            con.execute(f"create table raw.{each.name}_rows (load_id integer, entry_no integer,"
                        f" source_row bigint, {columns})")
            con.execute(f"create view raw.{each.name} as from raw.{each.name}_rows")
        con.execute("insert into raw.service_points_rows (load_id, entry_no, source_row,"
                    " service_point, application_class) select 1, 1, nr, place, 'any' from (select"
                    " unnest($places::varchar[]) as place, unnest(range(len($places))) as nr)",
                    {"places": sorted(set(places))})
        insert_batch(con, found, Batch(2, entry.day, "", [entry]))
        told = type_alone(con, found, options or TypingOptions(), latest)
        return Checked(
            tuple(Fault(int(row), column, value, reason, remedy)
                  for row, column, value, reason, remedy in told),
            tuple(_typed(con, found, len(rows))))


def _typed(con: duckdb.DuckDBPyConnection, log: Log, n_rows: int) -> list[dict[str, str]]:
    """Return the typed cells as text."""
    names = [name for name in log.names if log.column(name).kind != "words"]
    cells = ", ".join(
        f"case when {name} then 'yes' when not {name} then 'no' end"
        if log.column(name).kind == "yes_no" else f"{name}::varchar" for name in names)
    found = con.execute(
        f"select {cells} from clean.{log.name}_cells order by source_row").fetchall()
    assert len(found) == n_rows
    return [{name: cell for name, cell in zip(names, row, strict=True) if cell is not None}
            for row in found]


def _log(name: str) -> Log:
    """Return a log by name."""
    if name not in LOGS:
        raise InputError(f"entry: no log {str(name)[:40]!r}. Use one of {', '.join(LOGS)}.")
    if name in REGISTERS:
        raise InputError(f"entry: {name} is a register. Correct it in its file and load it again.")
    return LOGS[name]


def _check_form(log: Log, rows: Sequence[Mapping[str, str]]) -> None:
    """Stop what is no row of this log, or no text."""
    if not 0 < len(rows) <= MOST_ROWS:
        raise InputError(f"entry: 1 to {MOST_ROWS} rows at once, got {len(rows)}. Enter fewer.")
    for row in rows:
        for name, cell in row.items():
            if name not in log.names:
                raise InputError(f"entry: {log.name} has no column {str(name)[:40]!r}. Reload the"
                                 " page and enter it again.")
            if not isinstance(cell, str) or len(cell) > LONGEST_CELL:
                raise InputError(f"entry: {name} must be text of at most {LONGEST_CELL:,} signs. "
                                 "Shorten it.")
            if "\0" in cell or cell.encode("utf-8", "replace").decode("utf-8") != cell:
                raise InputError(f"entry: {name} holds a sign that is no text. Type it anew.")
