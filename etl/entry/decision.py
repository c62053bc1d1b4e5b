"""Decide a registered trial: its rows with the decision in them, all else as it stood."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from etl.entry.follow import follow
from etl.errors import InputError
from etl.load.columns import LOGS
from etl.load.entered import Entered, Journal, Torn

LOG = "trials"
KEY = LOGS[LOG].key
KEPT = tuple(name for name in LOGS[LOG].names if name != "deleted")
OLDER = ("trials: the edition was made by another version and does not hold these rows whole. "
         "Make a new edition, then decide.")
NO_REASON = "trials: say why, so that whoever follows the decision can judge it."
NOTHING = "trials: say what was decided, or which day was the last."
SAME = "trials: nothing would change. The trial stands like this already."


def decided_rows(store: Path, entry_id: str, published: Sequence[Mapping[str, Any]], n_seen: int,
                 decision: str, ended_on: str, reason: str) -> list[dict[str, str]]:
    """Return the rows of the trials log that record what was decided about one trial.

    Parameters
    ----------
    store : Path
    entry_id : str
        Of this entry; rows kept under it before come back as they are, so that it counts once.
    published : sequence of mapping
        Rows of the trial in the edition: column of the log to value.
    n_seen : int
        Rows of the journal that the edition has seen; later ones stand over it.
    decision, ended_on, reason : str
        As entered; an empty decision and day open the trial again.

    Returns
    -------
    list of dict of str to str
        One row for each place and arm that changes; it supersedes the one of the same key. A
        place that left the trial on a day of its own keeps that day.

    Raises
    ------
    InputError
        No reason, nothing decided or changed, no such trial, or an edition that lacks columns.
    """
    journal = follow(store, LOG)
    said = {"decision": " ".join(decision.split()), "decision_reason": reason.strip(),
            "ended_on": ended_on.strip()}
    if not said["decision_reason"]:
        raise InputError(NO_REASON)
    rows: dict[tuple[str, ...], Mapping[str, str]] = {
        _key(row): row for row in map(_text, published)}
    if not rows:
        raise InputError("trials: no such trial in the edition. Reload the page.")
    trial = next(iter(rows.values()))["trial"]
    for entry in journal.entries:
        if entry.entry_id == entry_id and _says(entry, trial, said):
            return [dict(row) for row in entry.rows]
    rows |= {_key(row): row for row in _unseen(journal, n_seen) if row.get("trial") == trial}
    standing = [row for row in rows.values() if row.get("deleted") != "yes"]
    if not any(row.get(name) for row in [said, *standing] for name in ("decision", "ended_on")):
        raise InputError(NOTHING)
    days = {row.get("ended_on", "") for row in standing}
    common = "" if "" in days else max(days, default="")
    changed = []
    for row in standing:
        own = row.get("ended_on", "")
        new = dict(row) | said | ({} if own in ("", common) else {"ended_on": own})
        if any(new[name] != row.get(name, "") for name in said):
            changed.append({name: cell for name, cell in new.items() if cell})
    if not changed:
        raise InputError(SAME)
    return changed


def _text(row: Mapping[str, Any]) -> dict[str, str]:
    """Return a published row as an entry writes it."""
    if any(name not in row for name in KEPT):
        raise InputError(OLDER)
    return {name: _cell(row[name]) for name in KEPT if row[name] is not None}


def _cell(value: Any) -> str:
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def _key(row: Mapping[str, str]) -> tuple[str, ...]:
    number = row.get("row_id", "")
    return ("row_id", number) if number else tuple(row.get(name, "") for name in KEY)


def _unseen(journal: Journal, n_seen: int) -> Iterable[Mapping[str, str]]:
    """Return the rows that no edition has seen, oldest first."""
    passed = 0
    lines: list[Entered | Torn] = [*journal.entries, *journal.torn]
    for line in sorted(lines, key=lambda item: item.number):
        rows = line.rows if isinstance(line, Entered) else ({},)
        passed += len(rows)
        if passed > n_seen and isinstance(line, Entered):
            yield from rows


def _says(entry: Entered, trial: str, said: Mapping[str, str]) -> bool:
    """Tell whether an entry was this decision about this trial; some places keep their day."""
    alike = ("decision", "decision_reason")
    return (all(row.get("trial") == trial and all(row.get(name, "") == said[name] for name in alike)
                for row in entry.rows)
            and any(row.get("ended_on", "") == said["ended_on"] for row in entry.rows))
