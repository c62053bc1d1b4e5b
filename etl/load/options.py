"""How the cells of a group of files are written, as far as typing asks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

ISO = "%Y-%m-%d"
PIVOT = 70
"""A two-digit year of 70 or more is 19.., below 20.. (common practice, no source)."""


class PlaceNames(NamedTuple):
    """Old names of places, of all mappings together."""

    agreed: dict[str, str]
    """Old name -> the present one."""
    disputed: dict[str, tuple[str, ...]]
    """Old name -> the present ones, where mappings lead it to different places."""


@dataclass(frozen=True)
class TypingOptions:
    """How the cells of a group of files are written."""

    date_formats: tuple[str, ...] = (ISO,)
    decimal: str = "."
    thousands: str = ""
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    """Our column -> the site's word -> ours; ``""`` stands for an empty cell."""
    units: dict[str, str] = field(default_factory=dict)
    """Our column -> the unit in which its cells are written."""
    no_date: tuple[str, ...] = ()
    """Cells that stand for no date."""
    two_digit_year_pivot: int = PIVOT
    """Two-digit years from here on belong to the last century."""
    serial_days_from: int | None = None
    """Calendar, 1900 or 1904, by which plain numbers in columns of dates count days."""
    months: dict[str, int] = field(default_factory=dict)
    """Names of months beside the English ones -> 1 to 12."""
    rate: str = "1"
    """What one of the file's currency is in the reporting one, as a decimal number."""
    currency: str = ""
    """Whose mark may stand beside the amounts; empty where none is declared."""
    may_hold_blanks: bool = True
    """False where it is certain that no cell begins or ends with a blank: none is trimmed then."""
    pooled_names: PlaceNames | None = None
    """Of entries, which belong to no mapping: names that lead on where the register lacks them."""
