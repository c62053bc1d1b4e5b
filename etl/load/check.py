"""Look at files before they are loaded: what each column is, what is wrong, what mapping to write.

Nothing is stored. What typing would correct or refuse comes from a trial run (see `trial_run`).
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from pathlib import Path

import duckdb

from etl.errors import InputError
from etl.load.check_report import PROPOSAL, CheckReport, FileReport
from etl.load.columns import Log
from etl.load.delimited import Job
from etl.load.extract import Dialect, Extract
from etl.load.folders import MAPPING, find_logs
from etl.load.look import Look, look_at
from etl.load.mapping import Mapping
from etl.load.once import (
    Delivered,
    Unreadable,
    by_content,
    deliver,
    mappings_differ,
    same_as,
    taken,
)
from etl.load.plan import make_plan
from etl.load.propose import fill_all, guess_log, propose_mapping
from etl.load.quoting import as_text
from etl.load.readers import read
from etl.load.recognise import Feed, by_dialect, recognise, wanted_of
from etl.load.store_faults import not_readable
from etl.load.tidy import tidy
from etl.load.warehouse import connect

CELLS = re.compile(r"\bc\d+\b")
LITERALS = re.compile(r"'(?:[^']|'')*'")


def check_path(path: Path) -> CheckReport:
    """Look at a file, or at every log file of a folder.

    Parameters
    ----------
    path : Path

    Returns
    -------
    CheckReport
        One entry a file. A file that cannot be read has a message; the others are looked at.

    Raises
    ------
    InputError
        There is no file to look at, or a mapping file cannot be used.
    """
    delivered = deliver(find_logs(path))
    reports = {item.file: FileReport(item.name, messages=(item.message,), is_readable=False)
               for item in delivered if isinstance(item, Unreadable)}
    with tempfile.TemporaryDirectory() as folder:
        for same in by_content(delivered).values():
            reports |= _check_content(path, same, Path(folder))
    position = {item.file: number for number, item in enumerate(delivered, start=1)}
    for same in by_content(delivered).values():
        for item in same:
            reports[item.file].first = position[same[0].file]
    return CheckReport([reports[item.file] for item in delivered],
                       (_folder(path) / MAPPING).exists())


def _check_content(path: Path, same: list[Delivered], folder: Path) -> dict[Path, FileReport]:
    """Look at the files of one content: at the one that a load reads."""
    read = taken(same)
    reports = {item.file: FileReport(item.name, same_as=same_as(path, item, read))
               for item in same}
    for item in same:
        if item is not read:
            continue
        try:
            with connect() as con:
                reports[item.file] = _check_file(con, item.file, item.parsed(), folder)
        except OSError as exc:
            reports[item.file] = FileReport(
                item.name, messages=(not_readable(item.name, exc),), is_readable=False)
        reports[item.file].note = mappings_differ(path, same, read)
    return reports


def write_proposal(path: Path, report: CheckReport) -> str | None:
    """Write the proposed mapping beside the files.

    Parameters
    ----------
    path : Path
        The file or folder that was checked.
    report : CheckReport

    Returns
    -------
    str or None
        Name of the file written: ``columns.toml``, or ``columns.proposed.toml`` where there is
        one already. None where nothing has to be mapped.
    """
    if not report.proposal:
        return None
    folder = _folder(path)
    name = PROPOSAL if (folder / MAPPING).exists() else MAPPING
    (folder / name).write_text(report.proposal, encoding="utf-8")
    return name


def _folder(path: Path) -> Path:
    """Return where the mapping of a file, or of a folder of files, stands."""
    return path if path.is_dir() else path.parent


def _check_file(
    con: duckdb.DuckDBPyConnection, file: Path, mapping: Mapping | None, folder: Path
) -> FileReport:
    """Read one file and fit its columns."""
    report = FileReport(as_text(file.name))
    try:
        feeds = recognise(report.file, mapping)
    except InputError as exc:
        feeds = []
        report.messages = (str(exc),)
    report.logs = tuple(feed.log.name for feed in feeds)
    readings = by_dialect(feeds) or [(Dialect(), feeds)]
    for number, (dialect, same) in enumerate(readings, start=1):
        job = Job(con, file, report.file, f"raw.file_{number}", folder, wanted_of(same), dialect)
        try:
            extract = tidy(con, read(job), job.file)
        except InputError as exc:
            report.messages += (str(exc),)
            continue
        if not feeds and dialect.sheet is None and len(extract.sheets) > 1:
            # No log is known, so each sheet is looked at for what it may be, this one as well.
            readings += [(Dialect(sheet=name), feeds) for name in extract.sheets]
            continue
        looks = _add_sheet(con, report, extract)
        if feeds:
            _fit(report, same, feeds, extract)
        else:
            _guess(report, looks, extract, dialect.sheet)
    return report


def _add_sheet(con: duckdb.DuckDBPyConnection, report: FileReport, extract: Extract,
               ) -> list[Look]:
    """Add what one reading of a file found; a file is read once for each sheet or form."""
    count = con.execute(f"select count(*) from {extract.unreadable}").fetchone()
    report.n_records += extract.n_records
    report.n_unreadable += count[0] if count else 0
    report.corrections += tuple(extract.corrections)
    seen = {look.name for look in report.columns}
    looks = look_at(con, extract)
    report.columns += tuple(look for look in looks if look.name not in seen)
    return looks


def _fit(report: FileReport, same: list[Feed], feeds: list[Feed], extract: Extract) -> None:
    """Fit the columns of one reading to its logs; propose a mapping where they do not fit."""
    unfit = None
    for feed in same:
        try:
            plan = make_plan(report.file, feed, extract.header, feeds)
        except InputError as exc:
            report.messages += (str(exc),)
            unfit = unfit or feed.log
            continue
        used = {ours: set(CELLS.findall(LITERALS.sub("", cell)))
                for ours, cell in plan.filled.items()}
        for position, name in enumerate(extract.header):
            ours = [column for column, cells in used.items() if f"c{position}" in cells]
            known = report.taken_as.get(name, "").split(", ") if name in report.taken_as else []
            if ours:
                report.taken_as[name] = ", ".join(dict.fromkeys([*known, *ours]))
        if feed.entry is None and _declares_forms(report, feed):
            unfit = feed.log
    if unfit is None or report.proposal:
        return
    report.taken_as = report.taken_as or _taken_as(unfit, report.columns)
    report.proposal = propose_mapping(report.file, unfit, report.columns, None,
                                      _header_row(extract))


def _guess(report: FileReport, looks: list[Look], extract: Extract, sheet: str | None) -> None:
    """Propose a mapping for a file, or a sheet of it, that no name tells the log of."""
    log = guess_log(sheet or report.file, looks)
    if log is None:
        return
    report.logs += (f"{log.name}?",)
    report.taken_as |= _taken_as(log, looks)
    entry = propose_mapping(report.file, log, looks, None, _header_row(extract), sheet)
    report.proposal += ("\n" if report.proposal else "") + entry


def _taken_as(log: Log, looks: Sequence[Look]) -> dict[str, str]:
    """Return the file's column -> ours, as a proposal has it."""
    return {theirs: ours for ours, theirs in fill_all(log, looks).items()}


def _header_row(extract: Extract) -> int | None:
    """Return the row of the header where it has to be stated."""
    return extract.n_skipped + 1 if extract.n_skipped else None


def _declares_forms(report: FileReport, feed: Feed) -> bool:
    """Say whether the cells need a declaration although the column names do not."""
    text = propose_mapping(report.file, feed.log, report.columns)
    keys = ("date_formats", "serial_days_from", "[file.months", "decimal =", "[file.words")
    return any(key in text for key in keys)
