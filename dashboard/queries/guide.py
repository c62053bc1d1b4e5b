"""What the guide asks: how figures are made, what words mean, what a log may hold."""

from __future__ import annotations

import csv
from pathlib import Path

from dashboard.queries.edition import Row, ask

GOALS = Path(__file__).resolve().parent.parent / "goals.csv"
"""Measured with the software, so it comes with it and not with an edition."""


def goals() -> list[Row]:
    """Return the goals of the calculations with the figures last measured."""
    with GOALS.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def methods() -> list[Row]:
    """Return every method note, in order of its title."""
    return ask("select key, title, words from method_notes order by title, key")


def formulas() -> dict[str, list[Row]]:
    """Return the formulas of each method note, with their sources."""
    out: dict[str, list[Row]] = {}
    for row in ask("select key, formula, meaning, source from formulas order by key, position"):
        out.setdefault(row["key"], []).append(row)
    return out


def glossary() -> list[Row]:
    """Return what the words on the pages mean."""
    return ask("select term, meaning from glossary order by lower(term), term")


def log_columns() -> dict[str, list[Row]]:
    """Return the columns that each log may have."""
    out: dict[str, list[Row]] = {}
    for row in ask("""select log, column_name, kind, unit, is_required, meaning, words
            from log_columns order by log, position"""):
        out.setdefault(row["log"], []).append(row)
    return out
