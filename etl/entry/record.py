"""The record of a hose being taken apart: rows of the teardown log, and what they say so far."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from etl.entry.follow import follow
from etl.load.entered import Entered

LOG = "teardowns"
VALUES = {"present": "yes", "absent": "no", "not checked": "not checked"}
"""State of a finding -> what the log says."""
MADE_SAFE, NOTE, PHOTOGRAPH, CLOSED, MECHANISM = (
    "made safe", "note", "photograph", "record closed", "mechanism")
NOT_CONCLUDED = "unknown"


@dataclass(frozen=True)
class Hose:
    """The hose that a record is about; ISO day, empty text for what is not known."""

    hose_id: str
    service_point: str
    removed_on: str

    @property
    def cells(self) -> dict[str, str]:
        """Cells that name it in a row of the log."""
        return {name: cell for name, cell in vars(self).items() if cell}

    @property
    def short(self) -> str:
        """A short name for the ids of rows that have no key of their own."""
        return hashlib.sha256("\0".join(vars(self).values()).encode("utf-8")).hexdigest()[:12]


@dataclass(frozen=True)
class Record:
    """What was entered about one hose."""

    answers: Mapping[str, str] = field(default_factory=dict)
    """Finding -> a key of `VALUES`."""
    touched: frozenset[str] = frozenset()
    """Findings that were ever answered here; an answer taken back is none any more."""
    notes: Mapping[str, str] = field(default_factory=dict)
    """Step -> note."""
    photographs: Mapping[str, str] = field(default_factory=dict)
    """Name -> step."""
    permit: str | None = None
    """What was said when the hose was made safe; None before that."""
    concluded: str | None = None
    is_closed: bool = False
    examined_on: str = ""
    examiner: str = ""
    last_screen: str = ""
    n_entries: int = 0
    entered_at: str = ""


class Writer:
    """Makes the rows of one record."""

    def __init__(self, hose: Hose, examined_on: str, examiner: str) -> None:
        """Keep what every row says."""
        self.hose = hose
        self.same = {"examined_on": examined_on, **hose.cells, "examiner": examiner}

    def answer(self, finding: str, state: str | None) -> dict[str, str]:
        """Return the row of an answer; None takes an answer back."""
        row = self.same | {"finding": finding}
        return row | ({"deleted": "yes"} if state is None else {"value": VALUES[state]})

    def made_safe(self, permit: str) -> dict[str, str]:
        """Return the row that says that the hose was made safe, and under which permit."""
        return self._kept(MADE_SAFE, permit or "yes", MADE_SAFE)

    def note(self, step: str, text: str) -> dict[str, str]:
        """Return the row of the note of a step; an empty one takes it back."""
        row = self._kept(NOTE, step, f"{NOTE} {step}")
        return row | ({"note": text} if text else {"deleted": "yes"})

    def photograph(self, step: str, name: str, is_kept: bool = True) -> dict[str, str]:
        """Return the row of a photograph, or the one that takes it off the record."""
        row = self._kept(PHOTOGRAPH, name, f"{PHOTOGRAPH} {name}") | {"note": step}
        return row if is_kept else row | {"deleted": "yes"}

    def conclusion(self, mechanism: str) -> list[dict[str, str]]:
        """Return the rows that close a record: what was concluded, and that it was confirmed."""
        row = self.same | {"finding": MECHANISM, "value": mechanism}
        closed = self._kept(CLOSED, "confirmed", CLOSED)
        return [row, closed] if mechanism != NOT_CONCLUDED else [closed]

    def reopened(self, concluded: str | None) -> list[dict[str, str]]:
        """Return the rows that open a closed record again."""
        rows = [self._kept(CLOSED, "confirmed", CLOSED) | {"deleted": "yes"}]
        if concluded:
            rows.append(self.same | {"finding": MECHANISM, "deleted": "yes"})
        return rows

    def _kept(self, finding: str, value: str, what: str) -> dict[str, str]:
        """Return a row with an id of its own, so that a record holds many notes of one day."""
        return self.same | {"finding": finding, "value": value, "row_id": f"{self.hose.short} "
                            f"{what}"}


def read_record(store: Path, hose: Hose) -> Record:
    """Return what was entered about a hose; an empty record where nothing was."""
    return fold([entry for entry in follow(store, LOG).entries
                 if entry.about.get("record") == hose.short])


def open_records(store: Path) -> list[tuple[Hose, Record]]:
    """Return the records that were begun and not closed, the latest first."""
    found: dict[Hose, list[Entered]] = {}
    for entry in follow(store, LOG).entries:
        first = entry.rows[0]
        hose = Hose(*(first.get(name, "") for name in ("hose_id", "service_point", "removed_on")))
        if entry.about.get("record"):
            found.setdefault(hose, []).append(entry)
    records = [(hose, fold(entries)) for hose, entries in found.items()]
    still = [(hose, record) for hose, record in records if not record.is_closed]
    return sorted(still, key=lambda item: (item[1].entered_at, item[0].short), reverse=True)


def fold(entries: list[Entered]) -> Record:
    """Return what entries say together: of rows of one key the latest counts, as in a build."""
    current: dict[str, Mapping[str, str]] = {}
    for entry in entries:
        for row in entry.rows:
            key = row.get("row_id") or row["finding"]
            current.pop(key, None)
            if row.get("deleted") != "yes":
                current[key] = row
    if not entries:
        return Record()
    first, last = entries[0], entries[-1]
    told: dict[str, Any] = {
        "answers": {}, "notes": {}, "photographs": {},
        "touched": frozenset(row["finding"] for entry in entries for row in entry.rows)}
    for row in current.values():
        _tell(told, row)
    return Record(
        **told, examined_on=first.rows[0].get("examined_on", ""), examiner=last.who,
        last_screen=str(last.about.get("screen", "")), n_entries=len(entries),
        entered_at=last.at)


def _tell(told: dict[str, Any], row: Mapping[str, str]) -> None:
    """Add what one current row says."""
    finding, value = row["finding"], row.get("value", "")
    states = {word: state for state, word in VALUES.items()}
    if finding == MADE_SAFE:
        told["permit"] = value
    elif finding == NOTE:
        told["notes"][value] = row.get("note", "")
    elif finding == PHOTOGRAPH:
        told["photographs"][value] = row.get("note", "")
    elif finding == MECHANISM:
        told["concluded"] = value
    elif finding == CLOSED:
        told["is_closed"] = True
    elif value in states:
        told["answers"][finding] = states[value]
