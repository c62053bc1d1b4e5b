"""The door through which two hoses change places: rows of installations and of removals."""

from __future__ import annotations

import datetime as dt

from dashboard import actions
from dashboard.queries import record as asked
from etl.entry.swap import LOGS, kept_rows, swap_rows
from etl.errors import InputError


def swap(given: object, entry_id: str, who: str, place: str, other: str, on: str) -> actions.Taken:
    """Keep that the hoses of two places changed over.

    Parameters
    ----------
    given, entry_id, who
        As of `dashboard.actions.save`.
    place, other : str
        Service points.
    on : str
        ISO day.

    Returns
    -------
    Taken

    Raises
    ------
    RefusedError
        The write is not allowed.
    InputError, StoreError
        Nothing sat at one of the places before that day, or it cannot be kept.
    """
    actions.guard(given)
    store = actions.at_hand().store
    kept = kept_rows(store, entry_id)
    if set(kept) != set(LOGS):
        day = _day(on)
        kept = swap_rows(day.isoformat(), _seat(place, day), _seat(other, day)) | kept
    for log in LOGS:  # both or none, as far as a check can tell
        faults = actions.faults_of(log, kept[log], asked.places([place, other]))
        if faults:
            return actions.Taken(faults)
    taken = [actions.save(given, entry_id, log, who, kept[log]) for log in LOGS]
    return actions.Taken((), any(item.is_new for item in taken))


def _day(on: str) -> dt.date:
    try:
        return dt.date.fromisoformat(on)
    except ValueError as exc:
        raise InputError(f"swap: “{on[:40]}” is not a day. Write it like 2026-02-28.") from exc


def _seat(place: str, day: dt.date) -> asked.Row:
    """Return the hose that sat at a place before a day; one without a tag has none here."""
    row = asked.seated(place, day)
    if row is None:
        raise InputError(f"swap: the edition knows of no hose that sat at “{place[:80]}” before "
                         f"{day} and on. Correct the place, the day, or its rows first.")
    is_made = row["hose_id"] == f"{place} {row['installed_on']}"
    return row | {"hose_id": None if is_made else row["hose_id"],
                  "construction": None if row["construction"] == "unknown" else row["construction"]}
