"""Correct one loaded row by a later one, in the words and units that the store keeps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path

from etl.entry.rows import Checked, check_rows
from etl.errors import InputError
from etl.load import archive
from etl.load.columns import LOGS
from etl.load.mapping import TypingOptions
from etl.load.recognise import recognise

CORRECTED = ("installations", "replacements", "inspections", "teardowns")
"""Logs of events; a register is corrected in its file, where all of its columns stand."""


def as_typed(store: Path, log: str, source_file: str, cells: Mapping[str, str],
             places: Iterable[str]) -> dict[str, str]:
    """Return the cells of a loaded row as its file's mapping reads them.

    Parameters
    ----------
    store : Path
    log : str
        One of `CORRECTED`.
    source_file : str
        Name of the file that the row came from, or of a journal.
    cells : mapping of str to str
        As read; other columns than the log's are left aside.
    places : iterable of str
        Service points that the register has; at least the one of the row.

    Returns
    -------
    dict of str to str
        Days in ISO, units and words of the store. A cell that cannot be read is left out.

    Raises
    ------
    InputError
        Files of this name are declared in ways that read the row differently.
    """
    if log not in CORRECTED:
        raise InputError(f"{log}: correct it in its file and load it again.")
    raw = {name: str(cell) for name, cell in cells.items() if name in LOGS[log].names}
    found = [_typed(log, raw, places, options) for options in _options(store, log, source_file)]
    if any(other != found[0] for other in found[1:]):
        raise InputError(f"{source_file}: several files of this name were loaded, declared in "
                         "different ways. Correct the row in its file and load it again.")
    return found[0]


def columns_of(log: str) -> list[str]:
    """Return the columns of a log that a person may fill in: all but what numbers its rows."""
    return [name for name in LOGS[log].names if name not in ("row_id", "deleted")]


def choices_of(log: str, column: str) -> tuple[str, ...]:
    """Return the words that a column may hold; none where any text will do."""
    found = LOGS[log].column(column)
    return ("yes", "no") if found.kind == "yes_no" else found.words


def corrected(log: str, before: Mapping[str, str], after: Mapping[str, str] | None,
              ) -> list[dict[str, str]]:
    """Return the rows that put a loaded row right; no values take it back.

    Parameters
    ----------
    log : str
    before, after : mapping of str to str
        Typed cells as they stand, and as they should be.

    Returns
    -------
    list of dict
        One row where the key stays: it supersedes. Else the row under its old key taken back, and
        the new one beside it.
    """
    kept = {name: cell for name, cell in before.items() if name != "deleted" and cell}
    gone = kept | {"deleted": "yes"}
    if after is None:
        return [gone]
    key = ("row_id",) if kept.get("row_id") else LOGS[log].key
    is_same = all(kept.get(name, "") == after.get(name, "") for name in key)
    return [dict(after)] if is_same else [gone, dict(after)]


def _typed(log: str, raw: Mapping[str, str], places: Iterable[str], options: TypingOptions,
           ) -> dict[str, str]:
    checked: Checked = check_rows(log, [raw], places, dt.date.today(), options)
    return checked.rows[0]


def _options(store: Path, log: str, source_file: str) -> list[TypingOptions]:
    """Return the ways in which files of this name are read into a log."""
    found = []
    for item in archive.registered(store):
        if item.source_file == source_file:
            feeds = recognise(source_file, archive.mapping_of(store, item))
            found += [feed.options for feed in feeds if feed.log.name == log]
    return [one for at, one in enumerate(found) if one not in found[:at]] or [TypingOptions()]
