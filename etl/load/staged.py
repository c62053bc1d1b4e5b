"""Give each log its rows: small files are gathered in one table, large ones stay where they are."""

from __future__ import annotations

from dataclasses import dataclass, field

import duckdb

from etl.errors import InputError
from etl.load.columns import Log
from etl.load.extract import Correction, Extract
from etl.load.plan import Plan
from etl.load.quoting import literal
from etl.load.tidy import rows_below

GUESSED = "not stated: guessed from words in a free text, as columns.toml says"
SHORTENED = r"\s*[-+]?\d([.,]\d+)?[eE]\+\d{2,3}\s*"
CUT_OFF = ("tags written in powers of ten, as in 1.23457E+17: a spreadsheet cut their digits off,"
           " so that unlike tags may look alike")
LARGE = 20_000
"""Rows from which a copy costs more than one more branch of the view."""


@dataclass(frozen=True)
class Part:
    """The rows that one file gives to one log."""

    load_id: int
    entry_no: int
    log: Log
    plan: Plan
    extract: Extract

    @property
    def constants(self) -> set[str]:
        """Columns that hold the same declared text in every row."""
        return {name for name, cell in self.plan.filled.items() if cell.startswith("'")}


@dataclass
class Staged:
    """How the rows of a part are selected, and what was left out of them."""

    select: str
    n_rows: int
    n_totals: int = 0
    n_left_out: int = 0
    """Rows that the mapping leaves out."""
    corrections: list[Correction] = field(default_factory=list)


def stage(con: duckdb.DuckDBPyConnection, part: Part) -> Staged:
    """Write the selection of a part's rows.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    part : Part

    Returns
    -------
    Staged

    Raises
    ------
    InputError
        A pattern of the mapping is not one that the database can search for.
    """
    extract, plan = part.extract, part.plan
    where = [extract.filter]
    _try_patterns(con, part)
    constants = part.constants
    required = [plan.filled[name] for name in part.log.required if name not in constants]
    days = [plan.filled[name] for name in part.log.required
            if part.log.column(name).kind == "date" and name not in constants]
    totals, corrections = rows_below(con, extract, required, days)
    if totals:
        where.append(f"{extract.row_number} not in ({', '.join(map(str, totals))})")
    n_all = (extract.n_rows - extract.n_empty - len(totals) if extract.n_rows is not None
             else _count(con, extract, where))
    if plan.skip:
        where.append(f"not ({plan.skip})")
    n_rows = _count(con, extract, where) if plan.skip else n_all
    for ours, guess in plan.guessed.items():
        n_guessed = _count(con, extract, [*where, f"({guess}) is not null"])
        if n_guessed:
            corrections.append(Correction(ours, GUESSED, n_guessed))
    if extract.may_hold_powers:
        corrections += _shortened_tags(con, part, where)
    names = ", ".join(
        f"{plan.filled[name]} as {name}" if name in plan.filled else f"null::varchar as {name}"
        for name in part.log.names
    )
    select = (
        f"select {part.load_id}::integer as load_id, {part.entry_no}::integer as entry_no,"
        f" ({extract.row_number})::bigint as source_row, {names}, {_other_cells(plan)}"
        f" as other_cells from {extract.table} where {' and '.join(where)}"
    )
    return Staged(select, n_rows, len(totals), n_all - n_rows, corrections)


class TableOfParts:
    """One log of the raw layer while its files come in."""

    def __init__(self, con: duckdb.DuckDBPyConnection, log: Log) -> None:
        """Make the empty table that gathers small files."""
        self.con = con
        self.log = log
        self.large: list[str] = []
        columns = ", ".join(f"{name} varchar" for name in (*log.names, "other_cells"))
        con.execute(
            f"create or replace table raw.{log.name}_rows"
            f" (load_id integer, entry_no integer, source_row bigint, {columns})"
        )

    def add(self, part: Part, staged: Staged) -> bool:
        """Take the rows of a part; True where its staging table has to stay."""
        if staged.n_rows >= LARGE:
            self.large.append(staged.select)
            return True
        self.con.execute(
            f"insert into raw.{self.log.name}_rows {staged.select} order by source_row")
        return False

    def finish(self) -> None:
        """Make the view ``raw.<log>`` over all parts."""
        parts = [f"select * from raw.{self.log.name}_rows", *self.large]
        self.con.execute(
            f"create or replace view raw.{self.log.name} as {' union all '.join(parts)}")


def _try_patterns(con: duckdb.DuckDBPyConnection, part: Part) -> None:
    """Search once for what the mapping extracts, so that a bad pattern is named as such."""
    filled = ", ".join([*part.plan.filled.values(), part.plan.skip or "true"])
    if "regexp" not in filled:
        return
    try:
        con.execute(f"select {filled} from {part.extract.table} limit 1").fetchall()
    except duckdb.InvalidInputException as exc:
        raise InputError(
            f"columns.toml: a pattern of [file.extract] or [file.keep] cannot be used ({exc})."
            " Write it without look-ahead and back references."
        ) from exc


def _shortened_tags(con: duckdb.DuckDBPyConnection, part: Part,
                    where: list[str]) -> list[Correction]:
    """Count the tags that a spreadsheet wrote in powers of ten: unlike ones may look alike."""
    tags = [column.name for column in part.log.columns if column.kind == "tag"
            and column.name in part.plan.filled and column.name not in part.constants]
    cells = [f"case when contains({part.plan.filled[name]}, '+') and regexp_full_match("
             f"{part.plan.filled[name]}, {literal(SHORTENED)}) then {part.plan.filled[name]} end"
             for name in tags]
    if not cells:
        return []
    counted = ", ".join(f"count({cell}), min({cell})" for cell in cells)
    found = con.execute(f"select {counted} from {part.extract.table}"
                        f" where {' and '.join(where)}").fetchone() or ()
    return [Correction(name, CUT_OFF, found[2 * place], found[2 * place + 1])
            for place, name in enumerate(tags) if found[2 * place]]


def _other_cells(plan: Plan) -> str:
    """Write the cells that no column of ours takes as one JSON text; NULL where all are empty."""
    cells = [(name, f"c{position}") for name, position in plan.other]
    cells += [(f"{ours} (a guess)", guess) for ours, guess in plan.guessed.items()]
    if not cells:
        return "null::varchar"
    pairs = ", ".join(f"{literal(name)}, {cell}" for name, cell in cells)
    return f"nullif(json_merge_patch('{{}}', json_object({pairs}))::varchar, '{{}}')"


def _count(con: duckdb.DuckDBPyConnection, extract: Extract, where: list[str]) -> int:
    """Count the staged rows that meet all conditions."""
    row = con.execute(
        f"select count(*) from {extract.table} where {' and '.join(where)}").fetchone()
    return int(row[0]) if row else 0
