"""Units on the pages: SI, or US customary; every conversion goes through this module.

The factors are those by which logs are read (``sql/seeds/units.csv``), so there is no second copy.
The choice belongs to the reader: it comes with the address (``units=us``), else from the browser.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import flask

from dashboard import words
from etl.paths import resource

SYSTEMS = {"si": "SI", "us": "US customary"}
PARAMETER, COOKIE = "units", "braidlife-units"
US = {
    "bar": "psi", "mm": "in", "degC": "degF", "m/s": "ft/s", "mm/s": "in/s", "kg": "lb",
    "kg/m": "lb/ft", "N m2": "lbf in2",
}  # fmt: skip
"""Unit in which a value is stored -> the US customary unit that it is shown in."""
WRITTEN = {"degC": "°C", "degF": "°F", "N m2": "N m²", "lbf in2": "lbf in²"}
"""Units that are written in another way than they are named in the table."""
SPELLED = {"°C": "degC", "N m²": "N m2"}
IN_COLUMNS = {
    "bar": ("bar", "psi"), "mm_s": ("mm/s", "in_s"), "mm": ("mm", "in"), "m_s": ("m/s", "ft_s"),
    "kg_per_m": ("kg/m", "lb_per_ft"), "kg": ("kg", "lb"), "n_m2": ("N m2", "lbf_in2"),
    "temperature_c": ("degC", "temperature_f"),
}  # fmt: skip
"""End of a published column's name -> its unit, and the end that it has in US customary units."""
COLUMN = re.compile(rf"(.*_)?({'|'.join(IN_COLUMNS)})((?:_rms|_lower|_upper)?)")
MEASURED = ("value", "limit_value", "lower", "upper")
"""Columns that are in the unit which the column ``unit`` of the same row names."""
SAID = ("reason", "flexible_reason", "stiff_reason", "objection", "next_check", "words")
"""Published columns whose sentences hold figures with units."""
IN_TEXT = re.compile(r"(\d[\d,]*(?:\.\d+)?) ?(bar|mm/s|mm|degC|°C|m/s|kg/m|kg|N m²)(?![\w/²])")
DIGITS = 3
"""Significant digits of a value that was turned into another unit."""


@dataclass(frozen=True)
class Conversion:
    """How a stored value is turned into the unit shown: ``(value - offset) / factor``."""

    unit: str
    factor: float
    offset: float
    source: str

    def shown(self, value: float) -> float:
        """Return a stored value in this unit."""
        return (value - self.offset) / self.factor

    def typed(self, typed: str) -> str:
        """Return a number typed in this unit as it is stored; what is none stays as it is."""
        try:
            return f"{self.factor * float(typed) + self.offset:.6g}"
        except ValueError:
            return typed


@cache
def table() -> dict[tuple[str, str], Conversion]:
    """Return every known conversion by the unit and the unit that values are stored in."""
    path = resource("sql") / "seeds" / "units.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return {
            (row["unit"], row["stored_unit"]): Conversion(
                row["unit"], float(row["factor"]), float(row["offset"]), row["source"])
            for row in csv.DictReader(file)
        }  # fmt: skip


def conversion(stored: str, system: str) -> Conversion:
    """Return how values of a stored unit are shown; one that no system changes stays as it is.

    Parameters
    ----------
    stored : str
        Unit as tables name it, such as ``"mm/s"``; a word after it (``"mm/s rms"``) is kept.
    system : str
        A key of `SYSTEMS`.

    Examples
    --------
    >>> round(conversion("degC", "us").shown(100.0), 6), conversion("mm/s rms", "us").unit
    (212.0, 'in/s rms')
    """
    bare, tail = (stored[:-4], " rms") if stored.endswith(" rms") else (stored, "")
    bare = SPELLED.get(bare, bare)
    if system != "us" or bare not in US:
        return Conversion(stored, 1.0, 0.0, "")
    found = table()[US[bare], bare]
    return Conversion(found.unit + tail, found.factor, found.offset, found.source)


def system() -> str:
    """Return the system of units of the reader who asks: a key of `SYSTEMS`."""
    if not flask.has_request_context():
        return "si"
    given = flask.request.args.get(PARAMETER) or flask.request.cookies.get(COOKIE)
    return given if given in SYSTEMS else "si"


def name(stored: str) -> str:
    """Return the unit in which the reader sees a stored unit, as it is written.

    Examples
    --------
    >>> name("degC")
    '°C'
    """
    unit = conversion(stored, system()).unit
    return WRITTEN.get(unit, unit)


def value(stored_value: float, stored: str) -> float:
    """Return a stored value in the reader's unit."""
    return conversion(stored, system()).shown(stored_value)


def text(stored_value: float | None, stored: str, digits: int = 0) -> str:
    """Return a stored value in words, with the reader's unit.

    Parameters
    ----------
    stored_value : float or None
    stored : str
    digits : int
        Significant digits; 0 shows a value that needs no conversion as it was registered.

    Examples
    --------
    >>> text(7.25, "bar"), text(1234.5, "mm", 3), text(-5.0, "degC"), text(None, "bar")
    ('7.25 bar', '1,230 mm', '−5 °C', 'not known')
    """
    if stored_value is None:
        return words.number(None)
    how = conversion(stored, system())
    if how.factor == 1.0 and not digits:
        return f"{stored_value:,g} {name(stored)}".replace("-", "−")
    return f"{words.number(how.shown(stored_value), digits or DIGITS)} {name(stored)}"


def spread(lower: float | None, upper: float | None, stored: str, digits: int = 2) -> str:
    """Return a range in the reader's unit, without its name."""
    ends = [None if end is None else value(end, stored) for end in (lower, upper)]
    return words.spread(ends[0], ends[1], digits)


def sentence(told: str | None) -> str:
    """Return a published sentence with every figure in it in the reader's unit.

    Examples
    --------
    >>> sentence("rated 12 bar at 180 degC")
    'rated 12 bar at 180 °C'
    """
    return in_sentence(told or "", system())


def in_sentence(told: str, units: str) -> str:
    """Return a sentence with every figure in it in the units of a system.

    Examples
    --------
    >>> in_sentence("needs a bend radius of 425 mm, chloride above about 60 degC", "us")
    'needs a bend radius of 16.7 in, chloride above about 140 °F'
    """
    def turned(found: re.Match[str]) -> str:
        how = conversion(found[2], units)
        unit = WRITTEN.get(how.unit, how.unit)
        if how.factor == 1.0:
            return f"{found[1]} {unit}"
        digits = max(2, len(re.sub(r"\D", "", found[1]).strip("0")))
        return f"{words.number(how.shown(float(found[1].replace(',', ''))), digits)} {unit}"

    return IN_TEXT.sub(turned, told)


def column(name: str, units: str) -> tuple[str, Conversion | None]:
    """Return name and conversion of a published column in a system; None where it stays.

    Examples
    --------
    >>> column("velocity_mm_s_lower", "us")[0], column("temperature_c", "us")[0]
    ('velocity_in_s_lower', 'temperature_f')
    >>> column("pressure_bar", "si"), column("life_days", "us")
    (('pressure_bar', None), ('life_days', None))
    """
    found = COLUMN.fullmatch(name)
    if units != "us" or found is None:
        return name, None
    stored, end = IN_COLUMNS[found[2]]
    return f"{found[1] or ''}{end}{found[3]}", conversion(stored, units)


def export(
    names: Sequence[str], batches: Iterable[list[tuple[Any, ...]]], units: str
) -> tuple[list[str], Iterator[list[tuple[Any, ...]]]]:
    """Return a table's columns and rows in a system of units; its header names the units.

    Parameters
    ----------
    names : sequence of str
        Published columns.
    batches : iterable of list of tuple
        Rows, in pieces.
    units : str
        A key of `SYSTEMS`.

    Notes
    -----
    A table with a column ``unit`` has its values converted row by row. Sentences are told in the
    same units. A value that is shown in SI is handed out untouched, to the last digit.
    """
    turned = [column(item, units) for item in names]
    by_row = names.index("unit") if "unit" in names else None

    def row_turned(row: tuple[Any, ...]) -> tuple[Any, ...]:
        how = conversion(str(row[by_row]), units) if by_row is not None and row[by_row] else None
        return tuple(_cell(cell, item, own[1], how)
                     for cell, item, own in zip(row, names, turned, strict=True))

    def pieces() -> Iterator[list[tuple[Any, ...]]]:
        for batch in batches:
            yield batch if units == "si" else [row_turned(row) for row in batch]

    return [item for item, _ in turned], pieces()


def _cell(cell: Any, name: str, own: Conversion | None, of_row: Conversion | None) -> Any:
    """Return one cell of an export in another system."""
    if cell is None:
        return None
    if of_row is not None and name == "unit":
        return of_row.unit
    how = own or (of_row if name in MEASURED else None)
    if how is not None:
        return cell if how.factor == 1.0 else float(f"{how.shown(float(cell)):.6g}")
    return in_sentence(cell, "us") if name in SAID and isinstance(cell, str) else cell
