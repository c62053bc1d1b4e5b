"""The door through which files come in: kept aside, mapped, looked over, loaded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import flask

from dashboard import actions
from dashboard.queries import record as asked
from etl.entry import incoming
from etl.entry.incoming_asked import (
    date_choices,
    has_money,
    mark_choice,
    month_choices,
    serial_choice,
    unknown_words,
    unused,
)
from etl.entry.incoming_choice import (
    KINDS,
    NEEDED,
    STANDING,
    STAYS,
    Choice,
    columns_of,
    is_foreign,
    needed_of,
    unit_choices,
)
from etl.errors import BraidlifeError

__all__ = ["KINDS", "NEEDED", "STANDING", "STAYS", "Choice", "columns_of", "needed_of"]


def install(app: flask.Flask) -> None:
    """Let an app take files."""
    app.post("/incoming")(_take_file)


def _store() -> Path:
    found = actions.at_hand()
    return found.store


def has_edition() -> bool:
    """Tell whether there is, or was, an edition: a store that lost its pointer is not empty."""
    try:
        return (_store() / "current").is_file() or any((_store() / "editions").glob("edition-*"))
    except OSError:
        return True  # whoever reads it says why it cannot be read


def waiting() -> list[str]:
    """Return the names of the files that wait to be loaded."""
    return incoming.files(_store())


def chosen() -> dict[str, Choice]:
    """Return what was chosen about each of them."""
    return incoming.chosen(_store())


def look_over(given: object) -> dict[str, Any]:
    """Return what would become of the files that wait; one at a time, as it takes a while.

    Raises
    ------
    RefusedError, InputError, StoreError
        It is not allowed, another file is being checked, or it cannot be done.
    """
    actions.guard(given, "keeper")
    looking = actions.at_hand().looking
    if not looking.acquire(timeout=30):
        raise actions.RefusedError(actions.BUSY)
    try:
        return incoming.look_at_files(_store(), asked.all_places())
    finally:
        looking.release()


def choose(given: object, name: str, choice: Mapping[str, Any]) -> None:
    """Note what was chosen about a file."""
    actions.guard(given, "keeper")
    incoming.choose(_store(), name, choice)


def remove(given: object, name: str) -> None:
    """Take a file that waits away."""
    actions.guard(given, "keeper")
    incoming.remove_file(_store(), name)


def load(given: object) -> None:
    """Load all files that wait and start making an edition of them."""
    actions.guard(given, "keeper")
    actions.audit_note("load asked for")
    incoming.load_files(_store())


def load_demo(given: object) -> None:
    """Start making the invented fleet and its edition."""
    actions.guard(given, "keeper")
    actions.audit_note("demo asked for")
    incoming.load_demo(_store())


def set_demo_aside(given: object) -> None:
    """Empty a store that holds the invented fleet."""
    actions.guard(given, "keeper")
    actions.audit_note("demo set aside")
    incoming.set_demo_aside(_store())


def is_demo() -> bool:
    """Tell whether the store holds the invented fleet and nothing else."""
    return incoming.is_demo(_store())


def missing() -> list[str]:
    """Return the logs that are still needed before anything can be ranked."""
    return incoming.missing_logs(_store(), has_edition())


def open_questions(choice: Choice, file: Mapping[str, Any],
                   refused: Sequence[Mapping[str, Any]] = ()) -> dict[str, Any]:
    """Return what is open about a file: how days and numbers are meant, words, unused columns.

    Parameters
    ----------
    choice : Choice
    file : mapping
        Its part of the report.
    refused : sequence of mapping
        Its rows that would be refused.
    """
    looks = [incoming.as_look(item) for item in file["columns"]]
    cells: dict[str, list[str]] = {}
    for row in refused:
        cells.setdefault(str(row["column_name"]), []).append(str(row["value"] or ""))
    return {"serial": serial_choice(choice, looks, cells),
            "months": month_choices(choice, looks, cells),
            "marks": mark_choice(choice, looks), "dates": date_choices(choice, looks),
            "words": unknown_words(choice, looks),
            "has_money": has_money(choice), "reporting": _reporting(choice),
            "units": unit_choices(choice),
            "unused": unused(choice, looks)}


def mapping_file() -> str:
    """Return the mapping of the files that wait, as ``columns.toml``."""
    return incoming.mapping_of(_store())


def _reporting(choice: Choice) -> str:
    """Return the reporting currency where a file's amounts are in another one; else nothing."""
    ours = incoming.currency_of(_store(), incoming.chosen(_store()))
    return ours if is_foreign(choice, ours) else ""


def _take_file() -> tuple[flask.Response, int]:
    """Keep a file that is sent as it is; answers with its name, or with why it is not kept."""
    flask.request.max_content_length = actions.LARGEST
    try:
        actions.guard(flask.request.headers.get("X-Braidlife-Token"), "keeper")
        name = incoming.add_file(_store(), flask.request.args.get("name", ""),
                                 flask.request.get_data(cache=False))
        return flask.jsonify(name=name), 200
    except actions.RefusedError as exc:
        return flask.jsonify(problem=str(exc)), 403
    except BraidlifeError as exc:
        return flask.jsonify(problem=str(exc)), 422
