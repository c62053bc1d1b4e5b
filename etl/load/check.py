"""Look at files before they are loaded: what each column is, what is wrong, what mapping to write.

Nothing is stored. What typing would correct or refuse comes from a trial run of the pipeline,
which the caller adds to the report.
"""

from __future__ import annotations

import dataclasses
import re
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb

from etl.errors import InputError
from etl.load.delimited import Job
from etl.load.extract import Correction, Dialect, Extract
from etl.load.folders import MAPPING, find_logs, read_mapping
from etl.load.look import Look, look_at
from etl.load.mapping import Mapping
from etl.load.plan import make_plan
from etl.load.propose import fill, guess_log, propose_mapping
from etl.load.readers import read
from etl.load.recognise import Feed, by_dialect, recognise, wanted_of
from etl.load.tidy import tidy
from etl.load.warehouse import connect

PROPOSAL = "columns.proposed.toml"
CELLS = re.compile(r"\bc\d+\b")
LITERALS = re.compile(r"'(?:[^']|'')*'")


@dataclass
class FileReport:
    """What was found out about one file."""

    file: str
    logs: tuple[str, ...] = ()
    """Logs that it feeds, or the one that it most likely feeds."""
    messages: tuple[str, ...] = ()
    """What is wrong, one sentence each; empty where the file can be loaded."""
    n_records: int = 0
    n_unreadable: int = 0
    corrections: tuple[Correction, ...] = ()
    columns: tuple[Look, ...] = ()
    taken_as: dict[str, str] = field(default_factory=dict)
    """The file's column -> ours."""
    proposal: str = ""
    """A ``[[file]]`` entry to start from; empty where none is needed."""


@dataclass
class CheckReport:
    """What was found out about a file or a folder of logs."""

    files: list[FileReport]
    refused: list[dict[str, Any]] = field(default_factory=list)
    """Rows that would be refused: source_file, source_row, column_name, value, reason, remedy."""

    @property
    def proposal(self) -> str:
        """The proposed mapping file; empty where none is needed."""
        return "\n".join(file.proposal for file in self.files if file.proposal)

    @property
    def n_refused(self) -> int:
        """Files and rows that would not be loaded as they are."""
        return len(self.refused) + sum(
            len(file.messages) + file.n_unreadable for file in self.files)

    def as_dict(self) -> dict[str, Any]:
        """Return the report for JSON."""
        return {
            "files": [dataclasses.asdict(file) for file in self.files], "refused": self.refused,
            "n_refused": self.n_refused, "proposal": self.proposal,
        }

    def text(self, n_rows: int = 20) -> str:
        """Return the report for a terminal, with at most `n_rows` refused rows."""
        lines: list[str] = []
        for file in self.files:
            lines += _file_lines(file)
        if self.refused:
            lines.append(f"{len(self.refused):,} faults in rows that would be refused:")
            lines += [
                f"  {row['source_file']} row {row['source_row']}: {row['column_name']}"
                f" {row['value']!r} {row['reason']}. {row['remedy']}"
                for row in self.refused[:n_rows]
            ]
        if self.proposal:
            lines += ["", f"Proposed mapping (--write puts it into {PROPOSAL}):", "", self.proposal]
        return "\n".join(lines)


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
    reports = []
    files = find_logs(path)
    with tempfile.TemporaryDirectory() as folder:
        for file, found in files:
            mapping = read_mapping(found) if found else None
            with connect() as con:
                reports.append(_check_file(con, file, mapping, Path(folder)))
    return CheckReport(reports)


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
    folder = path if path.is_dir() else path.parent
    name = PROPOSAL if (folder / MAPPING).exists() else MAPPING
    (folder / name).write_text(report.proposal, encoding="utf-8")
    return name


def _check_file(
    con: duckdb.DuckDBPyConnection, file: Path, mapping: Mapping | None, folder: Path
) -> FileReport:
    """Read one file and fit its columns."""
    report = FileReport(file.name)
    try:
        feeds = recognise(file.name, mapping)
    except InputError as exc:
        feeds = []
        report.messages = (str(exc),)
    report.logs = tuple(feed.log.name for feed in feeds)
    for number, (dialect, same) in enumerate(by_dialect(feeds) or [(Dialect(), feeds)], start=1):
        job = Job(con, file, file.name, f"raw.file_{number}", folder, wanted_of(same), dialect)
        try:
            extract = tidy(con, read(job))
        except InputError as exc:
            report.messages += (str(exc),)
            continue
        _add_sheet(con, report, extract)
        _fit(report, same, feeds, extract)
    return report


def _add_sheet(con: duckdb.DuckDBPyConnection, report: FileReport, extract: Extract) -> None:
    """Add what one reading of a file found; a file is read once for each sheet or form."""
    count = con.execute(f"select count(*) from {extract.unreadable}").fetchone()
    report.n_records += extract.n_records
    report.n_unreadable += count[0] if count else 0
    report.corrections += tuple(extract.corrections)
    seen = {look.name for look in report.columns}
    report.columns += tuple(look for look in look_at(con, extract) if look.name not in seen)


def _fit(report: FileReport, same: list[Feed], feeds: list[Feed], extract: Extract) -> None:
    """Fit the columns of one reading to its logs; propose a mapping where they do not fit."""
    unfit = None if feeds else guess_log(report.columns)
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
    if not feeds:
        report.logs = (f"{unfit.name}?",)
    report.taken_as = report.taken_as or {
        theirs: ours for ours, theirs in fill(unfit, report.columns).items()}
    header_row = extract.n_skipped + 1 if extract.n_skipped else None
    report.proposal = propose_mapping(report.file, unfit, report.columns, None, header_row)


def _declares_forms(report: FileReport, feed: Feed) -> bool:
    """Say whether the cells need a declaration although the column names do not."""
    text = propose_mapping(report.file, feed.log, report.columns)
    return any(key in text for key in ("date_formats", "decimal =", "[file.words"))


def _file_lines(file: FileReport) -> list[str]:
    """Describe one file."""
    logs = ", ".join(file.logs) or "no log recognised"
    lines = [f"{file.file}: {logs}, {file.n_records:,} records, {file.n_unreadable:,} unreadable"]
    lines += [f"  NOT LOADABLE: {message}" for message in file.messages]
    lines += [
        f"  corrected: {item.column_name + ': ' if item.column_name else ''}{item.what}"
        f" ({item.n_cells:,}{', ' + item.example if item.example else ''})"
        for item in file.corrections
    ]
    for look in file.columns:
        taken = file.taken_as.get(look.name, "left aside")
        form = f" {' or '.join(look.date_formats)}" if look.date_formats else ""
        shown = ", ".join(repr(text) for text in look.examples)
        lines.append(f"  {look.name} -> {taken}: {look.looks_like}{form}, {look.n_filled:,} filled,"
                     f" {look.n_different:,} different; {shown}")
    return lines
