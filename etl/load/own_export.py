"""Know a cleaned log that `braidlife export` wrote, so that it loads again as it was."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath

import duckdb

from etl.load.extract import Correction, Extract, folded
from etl.load.quoting import literal
from etl.sheets import GUARDED, GUARDED_INSIDE

MARKS = frozenset({"source_file", "source_row", "row_no"})
"""Columns that an exported log has beside the log's own; all of them together are its sign."""
WHAT = "apostrophes that an export had set before texts like formulas taken off"


def is_own(header: Iterable[str]) -> bool:
    """Say whether a header is that of an exported log."""
    return {folded(name) for name in header} >= MARKS


def take_back(con: duckdb.DuckDBPyConnection, extract: Extract, file: str) -> None:
    """Take off the apostrophes that keep a spreadsheet from running the cells of an export.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    extract : Extract
        Changed in place, where it is an exported log: what was taken off is a correction.
    file : str
        Name of the file: workbooks guard the beginning of a cell, delimited texts also what
        stands inside, Parquet nothing.
    """
    ending = PurePath(file).suffix.lower()
    if ending == ".parquet" or not is_own(extract.header):
        return
    guards = [(GUARDED, r"\1")]
    if ending not in (".xlsx", ".xlsm", ".xls"):
        guards.insert(0, (GUARDED_INSIDE, r"\1\2"))
    for position, name in enumerate(extract.header):
        cell = f"c{position}"
        for pattern, kept in guards:
            cell = f"regexp_replace({cell}, {literal(pattern)}, {literal(kept)}, 'g')"
        changed = f"c{position} is not null and c{position} <> {cell}"
        n_cells, example = con.execute(
            f"select count(*), min(c{position}) from {extract.table} where {changed}"
        ).fetchall()[0]
        if n_cells:
            con.execute(f"update {extract.table} set c{position} = {cell} where {changed}")
            extract.corrections.append(Correction(name, WHAT, n_cells, example))
