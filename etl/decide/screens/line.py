"""One line of a sheet of rough physics."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Given = Mapping[str, float | None]


@dataclass(frozen=True)
class Line:
    """One figure with what it rests on.

    Attributes
    ----------
    what : str
        What was worked out.
    value : float
    unit : str
        As stored; empty for a plain number.
    source, status : str
        Where the formula or the constant comes from, and how well that is known.
    lower, upper : float or None
        Range where the inputs or constants have one.
    note : str
        What to bear in mind.
    """

    what: str
    value: float
    unit: str
    source: str
    status: str
    lower: float | None = None
    upper: float | None = None
    note: str = ""


def known(given: Given, *names: str) -> list[float] | None:
    """Return the wanted inputs, None where one is missing or not above nought."""
    values = [given.get(name) for name in names]
    found = [value for value in values if value is not None and value > 0.0]
    return found if len(found) == len(names) else None
