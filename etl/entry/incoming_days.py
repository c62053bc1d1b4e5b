"""Days that no form reads: numbers of a spreadsheet's calendar, unknown names of months."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import replace

from etl.load.cell_text import EPOCHS
from etl.load.look import Look, fitting_formats, follows
from etl.load.months import ENGLISH, plain, with_names
from etl.load.names import likeness
from etl.load.quoting import BLANK_SIGNS
from etl.load.typed_days import SERIAL

YEARS = (1950, 2100)
"""Where days of hoses lie, by either calendar."""
NAMED_DAY = re.compile(
    r"\D{0,4}[0-9]{1,4}[\s./-]+([^\W\d_]{1,24})\.?[\s./-]+[0-9]{2,4}(\s.*)?")
"""A day, the name of a month, a year; or the year first."""
DAYS = ("installed_on", "removed_on")


def is_serial(cell: str) -> bool:
    """Tell whether a cell is a plain number that counts days of a spreadsheet's calendar.

    Examples
    --------
    >>> is_serial("44199"), is_serial("44199.5"), is_serial("1250"), is_serial("99999")
    (True, True, False, False)
    """
    bare = cell.strip(BLANK_SIGNS)
    return re.fullmatch(SERIAL, bare, re.ASCII) is not None and any(
        YEARS[0] <= day.year < YEARS[1] for day in days_of(bare).values())


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
    return next((text.strip(BLANK_SIGNS) for text in (*texts, *cells) if is_serial(text)), "")


def unknown_months(looks: Sequence[Look], known: Mapping[str, int], cells: Sequence[str] = (),
                   ) -> dict[str, list[str]]:
    """Return the names of months that nothing tells the number of, each with its cells.

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
    found: dict[str, list[str]] = {}
    for text in map(_bare, (*texts, *cells)):
        day = NAMED_DAY.fullmatch(text)
        if day and plain(day[1]) not in told:
            found.setdefault(plain(day[1]), []).append(text)
    return found


def forms_of_named(look: Look, names: Mapping[str, int]) -> tuple[str, ...]:
    """Return the forms of the days of a column, as far as the names of its months are known."""
    forms: list[str] = []
    for text in (_bare(value) for value, _ in look.values):
        if NAMED_DAY.fullmatch(text) and not is_read(text, forms, names):
            forms += next(filter(None, map(fitting_formats, _translated(text, names))), ())[:1]
    return tuple(forms)


def is_read(cell: str, forms: Sequence[str], names: Mapping[str, int]) -> bool:
    """Tell whether a day with the name of a month is read by one of some forms.

    Examples
    --------
    >>> is_read("3 Oca. 2021", ["%d %b %Y"], {"oca": 1}), is_read("3 Oca 2021", ["%d %b %Y"], {})
    (True, False)
    """
    return any(follows(text, form) for texts in _translated(cell, names) for text in texts
               for form in forms)


def _translated(text: str, names: Mapping[str, int]) -> list[list[str]]:
    every = ENGLISH | {plain(name): number for name, number in names.items()}
    return with_names([text], every)


def _bare(text: str) -> str:
    """Return a cell without outer blanks, a letter with its accent as one sign."""
    return unicodedata.normalize("NFC", text.strip(BLANK_SIGNS))
