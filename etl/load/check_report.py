"""What was found out about files before they are loaded, and how it is told."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from typing import Any

from etl.counted import counted
from etl.load.extract import Correction
from etl.load.look import Look

PROPOSAL = "columns.proposed.toml"


@dataclass(frozen=True)
class Rows:
    """What became of the rows that one file gives to one log, with the first ones as typed."""

    log: str
    n_kept: int
    n_superseded: int
    n_refused: int
    n_left_out: int
    """Rows that the mapping leaves out."""
    preview: tuple[tuple[int, dict[str, str]], ...]
    """Row number and cells, units and words as they would be stored; empty cells left away."""


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
    rows: tuple[Rows, ...] = ()
    """One for each log, once its rows were tried: under the proposal where there is one."""
    same_as: str = ""
    """File of the same content that is read in place of this one."""
    note: str = ""
    """Which mapping counts, where the same content came with different ones."""
    first: int = 0
    """Position of the first file of this content, in which a load numbers it; 0: its own."""
    is_readable: bool = True
    """False where the operating system does not let it be read."""

    @property
    def is_tried(self) -> bool:
        """Say whether its rows can be tried at all."""
        return self.is_readable and not self.same_as


@dataclass
class CheckReport:
    """What was found out about a file or a folder of logs."""

    files: list[FileReport]
    has_mapping: bool = False
    """Whether there is a mapping file already, which a proposal would not replace."""
    refused: list[dict[str, Any]] = field(default_factory=list)
    """Rows that would be refused: source_file, source_row, column_name, value, reason, remedy."""
    note: str = ""
    """Why rows were not tried, or what could not be tried."""

    @property
    def proposal(self) -> str:
        """The proposed mapping file; empty where none is needed."""
        return "\n".join(file.proposal for file in self.files if file.proposal)

    @property
    def n_refused(self) -> int:
        """Files that would not be loaded as they are, and faults of rows."""
        return len(self.refused) + sum(
            len(file.messages) + (0 if file.rows else file.n_unreadable) for file in self.files)

    def as_dict(self) -> dict[str, Any]:
        """Return the report for JSON."""
        return {
            "files": [dataclasses.asdict(file) for file in self.files], "refused": self.refused,
            "n_refused": self.n_refused, "note": self.note, "proposal": self.proposal,
        }

    def text(self, n_rows: int = 20) -> str:
        """Return the report for a terminal, with at most `n_rows` refused rows."""
        lines = [line for file in self.files for line in _file_lines(file)]
        if self.note:
            lines.append(self.note)
        if self.refused:
            lines.append(f"Faults in rows that would be refused: {len(self.refused):,}")
            lines += [
                f"  {row['source_file']} row {row['source_row']}: {row['column_name'] or 'the row'}"
                f" {row['value']!r} {row['reason']}. {row['remedy']}"
                for row in self.refused[:n_rows]
            ]
            if len(self.refused) > n_rows:
                lines.append(f"  and {len(self.refused) - n_rows:,} more (--json lists them all)")
        if self.proposal:
            name = PROPOSAL if self.has_mapping else "columns.toml"
            lines += ["", f"Proposed mapping (--write puts it into {name}):", "", self.proposal]
        return "\n".join(lines)


def _file_lines(file: FileReport) -> list[str]:
    """Describe one file."""
    if file.same_as:
        return [f"{file.file}: the same content as {file.same_as}, which is read once"]
    logs = ", ".join(file.logs) or "no log recognised"
    lines = [f"{file.file}: {logs}, {counted(file.n_records, 'record')},"
             f" {file.n_unreadable:,} unreadable"]
    lines += [f"  NOT LOADABLE: {message}" for message in file.messages]
    lines += [f"  {file.note}"] if file.note else []
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
    for rows in file.rows:
        under = " under the proposed mapping" if file.proposal else ""
        lines.append(f"  {rows.log}{under}, rows: {rows.n_kept:,} kept, {rows.n_superseded:,}"
                     f" superseded, {rows.n_refused:,} refused"
                     + (f", {rows.n_left_out:,} left out as the mapping says"
                        if rows.n_left_out else ""))
        lines += [f"    row {number}: " + ", ".join(f"{name} {cell}" for name, cell in row.items())
                  for number, row in rows.preview]
    return lines
