"""Say what the cells of a column look like: days, numbers, words, in which form."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import duckdb

from etl.load.currency import in_name, without_mark, written_beside
from etl.load.extract import Extract
from etl.load.months import in_english
from etl.load.quoting import BLANK_SIGNS
from etl.load.typed_days import date_pattern

DAY_FORMATS = (
    "%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%Y/%m/%d", "%Y.%m.%d",
    "%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "%Y%m%d",
)
NAMED_FORMATS = (
    "%d-%b-%Y", "%d-%b-%y", "%d %b %Y", "%b %d, %Y", "%d %B %Y", "%B %d, %Y", "%d %b %y",
    "%d. %b %Y", "%d. %b %y", "%d.%b.%Y", "%d.%b.%y", "%d/%b/%Y", "%d/%b/%y", "%d de %b de %Y",
)
"""Those with the name of a month, tried only where cells hold one."""
TIMES = ("", " %H:%M", " %H:%M:%S", " %I:%M:%S %p", " %I:%M %p", "T%H:%M:%S", "T%H:%M")
FORMATS = tuple(day + time for day in DAY_FORMATS for time in TIMES)
ALL_FORMATS = FORMATS + tuple(day + time for day in NAMED_FORMATS for time in TIMES)
MAY_NAME = re.compile(r"[^\W\d_]{3}")
SHARE = 0.9
"""A column is said to be days or numbers where nine in ten of its different cells are."""
FEW = 3
"""From so many fitting cells on one other cell is a slip, however short the column."""
PLAIN_NUMBER = re.compile(r"[-+]?\d+(\.\d+)?([eE][-+]?\d+)?", re.ASCII)
COMMA_NUMBER = re.compile(r"[-+]?\d{1,3}(\.\d{3})*,\d+|[-+]?\d+,\d+", re.ASCII)
GROUPED_NUMBER = re.compile(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?", re.ASCII)
"""Digits of other scripts are no digits to the reader either."""
GROUPING = "' \u2019\u00a0\u202f"
"""Marks between groups of three digits that never are a decimal mark."""
MOST_VALUES = 400
EXAMPLES = 3
WIDE, AT_A_TIME = 64, 16
"""A table of more columns than the first is looked at so many at a time."""


@dataclass(frozen=True)
class Look:
    """What one column of a file looks like."""

    name: str
    looks_like: str
    """``empty``, ``days``, ``numbers``, ``yes or no``, ``words`` or ``text``."""
    n_filled: int
    n_different: int
    examples: tuple[str, ...]
    date_formats: tuple[str, ...] = ()
    """Formats that fit; two of them mean that day and month cannot be told apart."""
    months: tuple[tuple[str, int], ...] = ()
    """Names of months of the language of the days with their numbers; none where it is English."""
    decimal: str | None = None
    thousands: str | None = None
    currency: str = ""
    """That of amounts, by the marks beside them or the name of the column; empty without one."""
    values: tuple[tuple[str, int], ...] = ()
    """Most frequent cells with their counts."""
    is_named: bool = True
    """False where the file gives no name: its name here says where it stands, and nothing can be
    taken from it."""


def look_at(con: duckdb.DuckDBPyConnection, extract: Extract) -> list[Look]:
    """Look at every column of a file.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    extract : Extract
        The file as read.

    Returns
    -------
    list of Look
        In the order of the columns.
    """
    looks = []
    for position, name in enumerate(extract.header):
        cell = f"c{position}"
        table = _narrow(con, extract, position)
        counts = con.execute(
            f"select count({cell}), count(distinct {cell}) from {table}").fetchone()
        values = con.execute(
            f"select {cell}, count(*) as n from {table} where trim({cell}) <> ''"
            f" group by {cell} order by n desc, {cell} limit {MOST_VALUES}").fetchall()
        n_filled, n_different = counts or (0, 0)
        found = look(name or f"column {position + 1}", values, n_filled, n_different)
        looks.append(replace(found, is_named=bool(name)))
    con.execute("drop table if exists few_columns")
    return looks


def _narrow(con: duckdb.DuckDBPyConnection, extract: Extract, position: int) -> str:
    """Return a table that holds a column: every statement goes through all columns of its table,
    so that those of a table of thousands are looked at in copies of a few at a time.
    """
    if len(extract.header) <= WIDE:
        return extract.table
    if position % AT_A_TIME == 0:
        few = ", ".join(f"c{i}" for i in range(
            position, min(position + AT_A_TIME, len(extract.header))))
        con.execute(f"create or replace temp table few_columns as select {few}"
                    f" from {extract.table}")
    return "few_columns"


def look(
    name: str, values: Sequence[tuple[str, int]], n_filled: int, n_different: int
) -> Look:
    """Say what a column looks like from its most frequent cells.

    Parameters
    ----------
    name : str
    values : sequence of (str, int)
        Different cells and their counts, most frequent first.
    n_filled, n_different : int
        Counts over the whole column.

    Returns
    -------
    Look

    Examples
    --------
    >>> look("Fitted", [("31.01.2020", 1), ("01.02.2020", 1)], 2, 2).date_formats
    ('%d.%m.%Y',)
    """
    values = [(text, n) for text, n in values if text.strip(BLANK_SIGNS)]
    texts = [text.strip(BLANK_SIGNS) for text, _ in values]
    shown = tuple(texts[:EXAMPLES])
    common = (n_filled, n_different, shown)
    if not texts:
        return Look(name, "empty", *common)
    formats = fitting_formats(texts)
    if formats:
        return Look(name, "days", *common, date_formats=formats)
    formats, months = _formats_by_language(texts)
    if formats:
        return Look(name, "days", *common, date_formats=formats, months=months)
    if {text.casefold() for text in texts} <= {"yes", "no", "y", "n", "true", "false", "1", "0"}:
        return Look(name, "yes or no", *common, values=tuple(values))
    decimal = _decimal([without_mark(text) for text in texts])
    if decimal is not None:
        return Look(name, "numbers", *common, decimal=decimal[0], thousands=decimal[1],
                    currency=written_beside(texts) or in_name(name), values=tuple(values))
    is_word = n_different <= 40 and n_filled > 2 * n_different
    return Look(name, "words" if is_word else "text", *common, values=tuple(values))


def fitting_formats(texts: Sequence[str]) -> tuple[str, ...]:
    """Return the date formats that nearly all cells follow.

    Parameters
    ----------
    texts : sequence of str

    Returns
    -------
    tuple of str
        Empty where the cells are no days. Two formats of day and month order where both fit
        every cell; several forms side by side where only together they cover the column.

    Examples
    --------
    >>> fitting_formats(["03/04/2025", "05/06/2025"])
    ('%d/%m/%Y', '%m/%d/%Y')
    """
    if not any(sign.isdigit() for text in texts for sign in text):
        return ()
    formats = ALL_FORMATS if any(map(MAY_NAME.search, texts)) else FORMATS
    fits = {form: sum(follows(text, form) for text in texts) for form in formats}
    best = max(fits.values())
    if _nearly_all(best, len(texts)):
        return tuple(form for form in formats if fits[form] == best)
    chosen: list[str] = []
    rest = list(texts)
    while rest and len(chosen) < 3:
        counts = {form: sum(follows(text, form) for text in rest) for form in formats}
        form = max(formats, key=lambda item: counts[item])
        if counts[form] == 0:
            break
        chosen.append(form)
        rest = [text for text in rest if not follows(text, form)]
    return tuple(chosen) if _nearly_all(len(texts) - len(rest), len(texts)) else ()


def _formats_by_language(texts: Sequence[str],
                         ) -> tuple[tuple[str, ...], tuple[tuple[str, int], ...]]:
    """Return the formats of cells with names of months that are not English, and those names."""
    written, months = in_english(texts)
    for translated in written:
        formats = fitting_formats(translated)
        if formats:
            return formats, months
    return (), ()


def days_among(look: Look) -> tuple[str, tuple[str, ...]]:
    """Return an example and the formats of the cells that are days, in a column of any look.

    Examples
    --------
    >>> mixed = look("Out", [("03.04.2025", 1), ("soon", 1), ("17.04.2025", 1)], 3, 3)
    >>> mixed.looks_like, days_among(mixed)
    ('text', ('03.04.2025', ('%d.%m.%Y',)))
    """
    if look.looks_like == "days":
        return look.examples[0], look.date_formats
    texts = [text.strip(BLANK_SIGNS) for text, _ in look.values]
    days = [text for text in texts if any(follows(text, form) for form in ALL_FORMATS)]
    return (days[0], fitting_formats(days)) if days else ("", ())


def is_ambiguous(formats: Sequence[str]) -> bool:
    """Say whether a day-first format and the same with the month first both came out.

    Examples
    --------
    >>> is_ambiguous(("%d/%m/%Y", "%m/%d/%Y")), is_ambiguous(("%d.%m.%Y", "%m/%d/%Y"))
    (True, False)
    """
    return bool(twins(formats))


def twins(formats: Sequence[str]) -> tuple[str, ...]:
    """Return the formats that are there once with the day and once with the month first.

    Examples
    --------
    >>> twins(("%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y"))
    ('%d/%m/%Y', '%m/%d/%Y')
    """
    return tuple(form for form in formats if _turned(form) in formats)


def _turned(form: str) -> str:
    """Return a format that begins with day and month with these two in the other order."""
    if form[:2] not in ("%d", "%m"):
        return ""
    return form.replace("%d", "%-").replace("%m", "%d").replace("%-", "%m")


def _nearly_all(n_fitting: int, n: int) -> bool:
    """Say whether so many of the different cells fit that the others are slips of the pen."""
    return n_fitting >= SHARE * n or (n_fitting >= FEW and n_fitting == n - 1)


@lru_cache(maxsize=100_000)
def follows(text: str, form: str) -> bool:
    """Say whether a text is a plausible day in a format, written as the reader takes it.

    Examples
    --------
    >>> follows("3 Mar 2020", "%d %b %Y"), follows("3  Mar 2020", "%d %b %Y")
    (True, False)
    """
    if not _shape(form).fullmatch(text):
        return False
    try:
        year = dt.datetime.strptime(text, form).year
    except ValueError:
        return False
    return 1950 <= year <= 2100


@cache
def _shape(form: str) -> re.Pattern[str]:
    return re.compile(date_pattern(form), re.ASCII)


def _decimal(texts: Sequence[str]) -> tuple[str, str] | None:
    """Return decimal and thousands marks of a column of numbers, None where it is none."""
    plain = sum(PLAIN_NUMBER.fullmatch(text) is not None for text in texts)
    if _nearly_all(plain, len(texts)):
        return ".", ""
    for mark in GROUPING:
        shape = re.compile(rf"[-+]?(\d{{1,3}}({mark}\d{{3}})+|\d+)([.,]\d+)?", re.ASCII)
        if any(mark in text for text in texts) and _nearly_all(
                sum(shape.fullmatch(text) is not None for text in texts), len(texts)):
            return "," if any("," in text for text in texts) else ".", mark
    comma = sum(COMMA_NUMBER.fullmatch(text) is not None for text in texts)
    grouped = sum(GROUPED_NUMBER.fullmatch(text) is not None for text in texts)
    if _nearly_all(grouped + plain, len(texts)) and grouped >= comma:
        return ".", ","
    if _nearly_all(comma + plain, len(texts)):
        return ",", "." if any("." in text for text in texts) else ""
    return None
