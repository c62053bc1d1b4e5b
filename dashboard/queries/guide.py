"""What the guide asks: how figures are made, what words mean, what a log may hold."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from pathlib import Path

from dashboard.queries.edition import Row, ask
from dashboard.queries.opened import NoEditionError
from etl.load import seeds
from etl.load.columns import described

GOALS = Path(__file__).resolve().parent.parent / "goals.csv"
"""Measured with the software, so it comes with it and not with an edition."""


def goals() -> list[Row]:
    """Return the goals of the calculations with the figures last measured."""
    with GOALS.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def methods() -> list[Row]:
    """Return every method note, in order of its title."""
    notes = _told("select key, title, words from method_notes", lambda: seeds.rows("method_notes"))
    return sorted(notes, key=lambda note: (note["title"], note["key"]))


def formulas() -> dict[str, list[Row]]:
    """Return the formulas of each method note, with their sources."""
    out: dict[str, list[Row]] = {}
    for row in _told("select key, formula, meaning, source from formulas order by key, position",
                     lambda: seeds.rows("formulas")):
        out.setdefault(row["key"], []).append(row)
    return out


def glossary() -> list[Row]:
    """Return what the words on the pages mean."""
    terms = _told("select term, meaning from glossary", lambda: seeds.rows("glossary"))
    return sorted(terms, key=lambda row: (row["term"].lower(), row["term"]))


def log_columns() -> dict[str, list[Row]]:
    """Return the columns that each log may have."""
    out: dict[str, list[Row]] = {}
    for row in _told("""select log, column_name, kind, unit, is_required, meaning, words
            from log_columns order by log, position""", described):
        out.setdefault(row["log"], []).append(row)
    return dict(sorted(out.items()))


def _told(question: str, packaged: Callable[[], Sequence[Row]]) -> Sequence[Row]:
    """Return what the edition says; before the first one, what the software brings along."""
    try:
        return ask(question)
    except NoEditionError:
        return packaged()
