"""Try the rows of files that were looked at: what would be kept, corrected and refused, and why."""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import replace
from pathlib import Path

import duckdb

from etl.errors import InputError
from etl.load.check_report import CheckReport, FileReport, Rows
from etl.load.columns import LOGS
from etl.load.extract import Correction
from etl.load.folders import MAPPING, find_logs, read_mapping
from etl.load.mapping import Mapping, TypingOptions, parse_mapping
from etl.load.raw import RawLayer, Source
from etl.load.recognise import recognise
from etl.load.row_faults import UNKNOWN_POINT
from etl.load.typing import build_clean
from etl.load.warehouse import connect

LAST_DAY = dt.date(2199, 12, 31)
"""Data date of logs without a single readable day: none is too late."""
N_PREVIEW = 3
NO_REGISTER = ("Places were not checked: there is no log service_points beside these files. "
               "Check the whole folder.")


def try_rows(path: Path, report: CheckReport) -> None:
    """Type and check the rows of files without keeping anything.

    Parameters
    ----------
    path : Path
        The file or folder that was looked at.
    report : CheckReport
        Of that path; told what became of the rows. A file with a proposed mapping is tried under
        the proposal.
    """
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder, connect() as con:
        groups = _read(con, path, report, Path(folder))
        try:
            _build(con, groups)
        except InputError as exc:
            report.note = f"Rows were not checked: {exc}"
            return
        has_register = con.execute("select count(*) from raw.service_points").fetchone() != (0,)
        spared = "" if has_register else f"where reason <> '{UNKNOWN_POINT}'"
        refused = con.execute(
            "select source_file, source_row, column_name, value, reason, remedy"
            f" from clean.refused {spared} order by all")
        names = [column[0] for column in refused.description or ()]
        report.refused = [dict(zip(names, row, strict=True)) for row in refused.fetchall()]
        n_spared = con.execute("select count(*) from clean.refused where reason ="
                               f" '{UNKNOWN_POINT}'").fetchone()
        report.note = "" if has_register or n_spared == (0,) else NO_REGISTER
        for number, file in enumerate(report.files, start=1):
            if file.is_tried:
                _tell(con, file.first or number, file, has_register)


def _read(con: duckdb.DuckDBPyConnection, path: Path, report: CheckReport, folder: Path,
          ) -> dict[int, TypingOptions]:
    """Read the files into the raw layer, numbered as a load numbers their contents."""
    layer = RawLayer(con, folder)
    swaps: dict[Path, tuple[Source, Mapping]] = {}
    found = find_logs(path)
    for number, ((file, beside), told) in enumerate(zip(found, report.files, strict=True), start=1):
        if not told.is_tried:
            continue
        source = Source(told.first or number, told.file, file, "", 0, dt.date.today())
        mapping = read_mapping(beside) if beside else None
        if beside and mapping and mapping.swap:
            swaps.setdefault(beside, (source, mapping))
        try:
            feeds = recognise(told.file, parse_mapping(told.proposal) if told.proposal else mapping)
        except InputError:
            continue  # the report says already that no log is known
        layer.add(source, feeds)
    for number, (source, mapping) in enumerate(swaps.values(), start=len(found) + 1):
        layer.add_swaps(replace(source, load_id=number, name=MAPPING), mapping)
    layer.finish()
    return layer.groups


def _build(con: duckdb.DuckDBPyConnection, groups: dict[int, TypingOptions]) -> None:
    """Type the rows, whether or not a day can be read among them."""
    try:
        build_clean(con, groups)
    except InputError:
        build_clean(con, groups, LAST_DAY)


def _tell(con: duckdb.DuckDBPyConnection, number: int, file: FileReport,
          has_register: bool) -> None:
    """Add to the report what became of the rows of one file."""
    entries = con.execute("select entry_no, log, n_left_out from raw.loads where load_id = ? and"
                          " status = 'loaded' order by entry_no", [number]).fetchall()
    file.rows = tuple(_rows(con, number, entry_no, log, n_left_out, has_register)
                      for entry_no, log, n_left_out in entries)
    if entries:
        corrections = con.execute(
            "select distinct on (column_name, what, n_cells) column_name, what, n_cells, example"
            " from raw.corrections where load_id = ? order by column_name nulls first, what,"
            " n_cells, entry_no", [number]).fetchall()
        file.corrections = tuple(Correction(*row) for row in corrections)


def _rows(con: duckdb.DuckDBPyConnection, load_id: int, entry_no: int, log: str,
          n_left_out: int, has_register: bool) -> Rows:
    """Count the rows that a file gives to a log, and show the first good ones.

    Without a register every place is unknown: a row with no other fault counts as kept.
    """
    counts = [con.execute(
        f"select count(distinct source_row) from {table} where load_id = ? and entry_no = ?",
        [load_id, entry_no]).fetchone() for table in (
            f"clean.{log}", "clean.superseded", "clean.refused")]
    n_kept, n_superseded, n_refused = (row[0] if row else 0 for row in counts)
    is_good = "reasons is null"
    if not has_register:
        is_good += (" or source_row in (select source_row from clean.refused where load_id ="
                    " t.load_id and entry_no = t.entry_no group by source_row"
                    f" having bool_and(reason = '{UNKNOWN_POINT}'))")
        spared = con.execute(
            "select count(*) from (select source_row from clean.refused where load_id = ? and"
            f" entry_no = ? group by source_row having bool_and(reason = '{UNKNOWN_POINT}'))",
            [load_id, entry_no]).fetchone() or (0,)
        n_kept, n_refused = n_kept + spared[0], n_refused - spared[0]
    names = [name for name in LOGS[log].names if name != "deleted"]
    shown = con.execute(
        f"select source_row, {', '.join(f'{name}::varchar' for name in names)}"
        f" from clean.{log}_cells as t where load_id = ? and entry_no = ? and ({is_good})"
        f" order by source_row limit {N_PREVIEW}", [load_id, entry_no]).fetchall()
    preview = tuple(
        (number, {name: cell for name, cell in zip(names, cells, strict=True) if cell is not None})
        for number, *cells in shown)
    return Rows(log, n_kept, n_superseded, n_refused, n_left_out, preview)
