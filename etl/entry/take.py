"""Take an entry: check it as loaded rows are checked, then append it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from etl import audit
from etl.entry.follow import follow
from etl.entry.journal import append
from etl.entry.rows import LONGEST_CELL, Fault, check_rows
from etl.errors import InputError

LONGEST_NAME = 80


@dataclass(frozen=True)
class Taken:
    """What became of an entry: kept, or what is wrong with it."""

    faults: tuple[Fault, ...]
    is_new: bool = False

    @property
    def is_kept(self) -> bool:
        """Whether it stands in the journal now."""
        return not self.faults

    @property
    def words(self) -> str:
        """Return what is wrong, as sentences."""
        return " ".join(fault.words for fault in self.faults)


def take(store: Path, log: str, entry_id: str, who: str, rows: Sequence[Mapping[str, str]],
         places: Iterable[str], about: Mapping[str, Any] | None = None) -> Taken:
    """Check an entry and append it.

    Parameters
    ----------
    store : Path
    log : str
    entry_id : str
        Made by whoever enters; the same entry sent again counts once.
    who : str
        Name as given; there are no accounts to check it by.
    rows : sequence of mapping
        Column to text.
    places : iterable of str
        Service points that the register has; at least those that the rows name.
    about : mapping or None
        What the pages keep with the entry.

    Returns
    -------
    Taken
        With faults nothing was kept.

    Raises
    ------
    InputError
        Nobody is named, or the entry has no form that can be checked.
    StoreError
        It cannot be written.
    """
    who = " ".join(who.split())
    if not 0 < len(who) <= LONGEST_NAME or len(str(about)) > LONGEST_CELL:
        raise InputError(f"entry: say who enters it, in at most {LONGEST_NAME} signs.")
    if not who.isprintable():
        raise InputError("entry: the name holds a sign that is no text. Type it anew.")
    filled = [{name: cell for name, cell in row.items() if cell != ""} for row in rows]
    wrong = faults_of(log, filled, places)
    if wrong:
        return Taken(wrong)
    is_new = append(store, log, entry_id, who, filled, about)
    if is_new:
        audit.note(store, "entry", who, log=log, rows=len(filled), entry_id=entry_id)
    return Taken((), is_new)


def faults_of(log: str, rows: Sequence[Mapping[str, str]], places: Iterable[str],
              ) -> tuple[Fault, ...]:
    """Return what is wrong with rows that somebody enters today; errors as in `take`."""
    return check_rows(log, rows, places, dt.date.today()).faults


def n_rows_entered(store: Path, log: str) -> int:
    """Return how many rows a build finds in the journal of a log."""
    journal = follow(store, log)
    return sum(len(entry.rows) for entry in journal.entries) + len(journal.torn)
