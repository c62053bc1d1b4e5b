"""Days that no form reads: numbers of a spreadsheet's calendar, unknown names of months."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from etl.load.cell_text import EPOCHS
from etl.load.look import Look, fitting_formats
from etl.load.months import ENGLISH, WORD, plain, with_names
from etl.load.names import likeness
from etl.load.typed_days import SERIAL

YEARS = (1950, 2100)
"""Where days of hoses lie, by either calendar."""
NAMED_DAY = re.compile(r"\D{0,4}\d{1,4}[\s./-]+([^\W\d_]{2,})\.?[\s./-]+\d{2,4}(\s.*)?")
"""A day, the name of a month, a year; or the year first."""
DAYS = ("installed_on", "removed_on")
MOST_NAMES = 24


def is_serial(cell: str) -> bool:
    """Tell whether a cell is a plain number that counts days of a spreadsheet's calendar.

    Examples
    --------
    >>> is_serial("44199"), is_serial("44199.5"), is_serial("1250"), is_serial("99999")
    (True, True, False, False)
    """
    return re.fullmatch(SERIAL, cell.strip()) is not None and any(
        YEARS[0] <= day.year < YEARS[1] for day in days_of(cell.strip()).values())


def days_of(serial: str) -> dict[int, dt.date]:
    """Return for each calendar of spreadsheets the day that a number stands for.

    Examples
    --------
    >>> days_of("44199")[1900].isoformat(), days_of("44199")[1904].isoformat()
    ('2021-01-03', '2025-01-04')
    """
    return {year: day_0 + dt.timedelta(days=int(serial[:5])) for year, day_0 in EPOCHS.items()}


def as_days(look: Look) -> Look:
    """Return a column of numbers as one of days where its name and all its cells speak for it."""
    if look.looks_like != "numbers" or not any(likeness(look.name, name) for name in DAYS):
        return look
    is_all = all(is_serial(cell) for cell, _ in look.values)
    return replace(look, looks_like="days") if is_all else look


def serial_of(looks: Sequence[Look], cells: Sequence[str] = ()) -> str:
    """Return a plain number among columns of days to ask about; empty where there is none.

    Parameters
    ----------
    looks : sequence of Look
        Columns that are to hold days.
    cells : sequence of str
        Their cells that could not be read.
    """
    texts = [text for look in looks for text in (*(value for value, _ in look.values),
                                                 *look.examples)]
    return next((text.strip() for text in (*texts, *cells) if is_serial(text)), "")


def unknown_months(looks: Sequence[Look], known: Mapping[str, int], cells: Sequence[str] = (),
                   ) -> list[tuple[str, str]]:
    """Return the names of months that nothing tells the number of, each with a cell that has it.

    Parameters
    ----------
    looks : sequence of Look
        Columns that are to hold days.
    known : mapping of str to int
        Names that the choice knows beside the English ones.
    cells : sequence of str
        Cells of these columns that could not be read.
    """
    texts = [value for look in looks if look.looks_like != "days" for value, _ in look.values]
    told = ENGLISH.keys() | {plain(name) for name in known}
    found: dict[str, str] = {}
    for text in (*texts, *cells):
        day = NAMED_DAY.fullmatch(text.strip())
        if day and plain(day[1]) not in told:
            found.setdefault(plain(day[1]), text.strip())
    return list(found.items())[:MOST_NAMES]


def forms_of_named(look: Look, names: Mapping[str, int]) -> tuple[str, ...]:
    """Return the form of the days of a column, as far as the names of its months are known."""
    every = ENGLISH | {plain(name): number for name, number in names.items()}
    texts = [text.strip() for text, _ in look.values]
    told = [text for text in texts if NAMED_DAY.fullmatch(text) and all(
        plain(word) in every for word, _ in WORD.findall(text))]
    return next((forms[:1] for forms in map(fitting_formats, with_names(told, every))
                 if forms), ())
