"""Files on their way in: kept aside in the store, mapped, looked over, then loaded together.

``incoming/`` holds the files, ``choices.json`` what was chosen about them, and ``columns.toml``
made from that; nothing of it counts before `load_files` puts it into the archive.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from etl.entry import job
from etl.entry.incoming_choice import (
    KINDS,
    NEEDED,
    Choice,
    guess,
    has_rate,
    reporting,
    with_forms,
)
from etl.entry.incoming_text import mapping_text
from etl.entry.look import LARGEST, look_over, safe_name
from etl.errors import InputError, StoreError
from etl.load import archive
from etl.load.folders import MAPPING
from etl.load.kept import digest, put
from etl.load.look import Look
from etl.load.mapping import parse_mapping
from etl.load.publish import store_lock
from etl.load.store_faults import write_fault
from etl.parsed import from_json

FOLDER = "incoming"
CHOICES = "choices.json"
ASIDE = "set-aside"
MOST_FILES = 20
KEPT_FORMS = 40
"""Forms of earlier files that are remembered, so that next month's file maps itself."""
DEMO_PARTS = ("current", "editions", "track", "entries", "files", "mappings", "loads.jsonl", "logs")
"""What a store of the invented fleet consists of; the pointer first, so that nothing half shows,
and last what it is known by, so that a kill half way can be made good by doing it again."""


def files(store: Path) -> list[str]:
    """Return the names of the files that wait."""
    folder = store / FOLDER
    return sorted(item.name for item in folder.iterdir()
                  if item.name not in (CHOICES, MAPPING) and not item.name.endswith(".tmp")
                  ) if folder.is_dir() else []


def add_file(store: Path, name: str, content: bytes) -> str:
    """Keep a file aside and return the name it got.

    Raises
    ------
    InputError
        Wrong ending, too large, empty, too many files wait, or one of nearly the same name.
    StoreError
        The store cannot be written.
    """
    shown = safe_name(name)
    if not content:
        raise InputError(f"{shown}: the file is empty.")
    if len(content) > LARGEST:
        raise InputError(f"{shown}: at most {LARGEST / 1e6:.0f} MB can be loaded here. Load it "
                         "with `braidlife load` on the machine itself.")
    waiting = files(store)
    alike = [item for item in waiting if item != shown and item.casefold() == shown.casefold()]
    if alike:  # the mapping takes both names for one
        raise InputError(f"{shown}: {alike[0]} waits already, whose name differs in capitals only. "
                         "Give this file another name, or remove that one first.")
    if shown not in waiting and len(waiting) >= MOST_FILES:
        raise InputError(f"{shown}: {MOST_FILES} files wait already. Load them first.")
    _write(store, shown, content)
    return shown


def remove_file(store: Path, name: str) -> None:
    """Take a file that waits away again; what was chosen about its form is remembered."""
    if name in files(store):
        _take_away(store, name)
        _save(store, chosen(store))


def chosen(store: Path) -> dict[str, Choice]:
    """Return what was chosen about the files that wait."""
    return {name: choice for name, choice in _noted(store)[0].items() if name in files(store)}


def choose(store: Path, name: str, choice: Mapping[str, Any]) -> None:
    """Note what was chosen about a file.

    Parameters
    ----------
    store : Path
    name : str
    choice : mapping
        Fields of a `Choice`; without columns they are guessed anew.

    Raises
    ------
    InputError
        The choice cannot be used, or no such file waits.
    """
    if name not in files(store):
        raise InputError(f"{name}: no such file waits. It was loaded or removed meanwhile.")
    try:
        made = Choice.model_validate(choice)
    except ValidationError as exc:
        raise InputError(f"{name}: the choice cannot be read.") from exc
    if made.kind not in KINDS:
        raise InputError(f"{name}: say what one row is.")
    parse_mapping(mapping_text({name: made}))
    if made.rate and not has_rate(made):
        raise InputError(f"{name}: {made.rate!r} is no rate. Write a number such as 0.85.")
    _save(store, chosen(store) | {name: made})


def look_at_files(store: Path, places: Iterable[str]) -> dict[str, Any]:
    """Return what would become of the files that wait, under what was chosen.

    A file about which nothing was chosen gets a guess, noted as its choice.

    Returns
    -------
    dict
        The report of ``braidlife check`` on all of them.
    """
    waiting = [store / FOLDER / name for name in files(store)]
    if not waiting:
        return {"files": [], "refused": [], "n_faults": 0, "note": ""}
    report = look_over(waiting, mapping_of(store), _register(store, places))
    before, forms = chosen(store), _noted(store)[1]
    now = {file["file"]: _completed(before.get(file["file"]), file, forms)
           for file in report["files"]}
    if now != before:
        _save(store, now)
        report = look_over(waiting, mapping_of(store), _register(store, places))
    return report


def _completed(choice: Choice | None, file: Mapping[str, Any], forms: list[Choice]) -> Choice:
    """Return what was chosen about a file with what its columns show, or a guess."""
    looks = [as_look(item) for item in file["columns"]]
    new = {look.name for look in looks if look.is_named} - {*(choice.header if choice else ())}
    if choice is None or (choice.header and new):  # another file came under the same name
        return guess(file["file"], looks, _header_row(file), forms)
    return with_forms(choice if choice.columns else guess(
        file["file"], looks, choice.header_row, kind=choice.kind), looks)


def missing_logs(store: Path, has_edition: bool) -> list[str]:
    """Return the logs without which there is nothing to rank, and that no file feeds yet."""
    if has_edition:
        return []
    fed = {log for choice in chosen(store).values() for log in KINDS[choice.kind]}
    return [log for log in NEEDED if log not in fed]


def load_files(store: Path) -> None:
    """Put the files that wait into the archive and start the job that makes an edition of them.

    Raises
    ------
    InputError
        None waits, or one cannot be read.
    StoreError
        Another load runs, or the store cannot be written.
    """
    names = files(store)
    if not names:
        raise InputError("No file waits to be loaded.")
    with store_lock(store):
        # A full disk may have kept it back.
        _write(store, MAPPING, mapping_of(store).encode("utf-8"))
        outcomes = archive.add(store, store / FOLDER)
        bad = [item.message for item in outcomes if item.message]
        if bad:
            raise InputError(" ".join(bad))
        for name in names:
            _take_away(store, name)
    job.start(store)


def load_demo(store: Path) -> None:
    """Start the job that makes the invented fleet and its edition, in a store without logs.

    Raises
    ------
    InputError
        The store holds logs.
    """
    if archive.registered(store):
        raise InputError("The store holds logs already. The invented fleet is not mixed with them.")
    job.start(store, is_demo=True)


def is_demo(store: Path) -> bool:
    """Tell whether a store holds the invented fleet and nothing else."""
    made = store / "logs"
    known = archive.registered(store)
    return bool(known) and made.is_dir() and {item.sha256 for item in known} <= {
        digest(path) for path in made.rglob("*") if path.is_file()}


def set_demo_aside(store: Path) -> None:
    """Empty a store that holds the invented fleet; what it held is moved into ``set-aside/``.

    Raises
    ------
    InputError
        It holds other logs as well.
    """
    with store_lock(store):
        if not is_demo(store):
            raise InputError("The store holds logs that are not the invented fleet's. Nothing was "
                             "moved.")
        number = 1
        while (store / ASIDE / str(number)).exists():
            number += 1
        target = store / ASIDE / str(number)
        try:
            target.mkdir(parents=True)
            for part in DEMO_PARTS:
                if (store / part).exists():
                    os.replace(store / part, target / part)
        except OSError as exc:
            raise write_fault(store, "the invented fleet could not be set aside", exc,
                              "try again") from exc


def as_look(item: Mapping[str, Any]) -> Look:
    """Return a column's look from the report's form of it."""
    given = dict(item)
    for name in ("examples", "date_formats"):
        given[name] = tuple(given.get(name) or ())
    given["values"] = tuple((str(word), int(n)) for word, n in given.get("values") or ())
    given["months"] = tuple((str(word), int(n)) for word, n in given.get("months") or ())
    return Look(**given)


def _header_row(file: Mapping[str, Any]) -> int | None:
    """Return the line of the header where rows stand above it."""
    above = [item["n_cells"] for item in file["corrections"]
             if item["what"] == "rows above the header left out"]
    return int(above[0]) + 1 if above else None


def _register(store: Path, places: Iterable[str]) -> list[str]:
    """Return the places of the store, unless a file that waits holds places itself."""
    fed = {log for choice in chosen(store).values() for log in KINDS[choice.kind]}
    return [] if "service_points" in fed else sorted(set(places))


def _noted(store: Path) -> tuple[dict[str, Choice], list[Choice]]:
    """Return the choices by file, and the forms of earlier files; a damaged note is no note."""
    try:
        told = from_json((store / FOLDER / CHOICES).read_text(encoding="utf-8"))
        return ({name: Choice.model_validate(item) for name, item in told["files"].items()},
                [Choice.model_validate(item) for item in told["forms"]])
    except (OSError, ValueError, KeyError, AttributeError):
        return {}, []


def _save(store: Path, choices: dict[str, Choice]) -> None:
    """Replace the note of the choices, and the mapping made from them."""
    _, forms = _noted(store)
    latest = {tuple(item.header): item for item in [*forms, *choices.values()] if item.header}
    told = {"files": {name: item.model_dump() for name, item in choices.items()},
            "forms": [item.model_dump() for item in [*latest.values()][-KEPT_FORMS:]]}
    _write(store, CHOICES, json.dumps(told, indent=1).encode("utf-8"))
    _write(store, MAPPING, mapping_text(choices, currency_of(store, choices)).encode("utf-8"))


def mapping_of(store: Path) -> str:
    """Return the text of the mapping of the files that wait."""
    choices = chosen(store)
    return mapping_text(choices, currency_of(store, choices))


def currency_of(store: Path, choices: Mapping[str, Choice]) -> str:
    """Return the reporting currency: that of the logs loaded before, else of the files."""
    try:
        return archive.reporting_currency(store) or reporting(choices)
    except (InputError, StoreError):
        return reporting(choices)


def _take_away(store: Path, name: str) -> None:
    """Delete a file that waits."""
    try:
        (store / FOLDER / name).unlink()
    except OSError as exc:
        raise write_fault(store, f"{name} could not be taken away", exc, "try again") from exc


def _write(store: Path, name: str, content: bytes) -> None:
    """Replace a file of the folder whole."""
    folder = store / FOLDER
    try:
        folder.mkdir(parents=True, exist_ok=True)
        put(folder / name, content)
    except OSError as exc:
        raise write_fault(store, f"{name} could not be kept", exc, "try again") from exc
