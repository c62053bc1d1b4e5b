"""Days that programs write where there is none: the ends of their calendars.

Only in columns that may be empty: where a day is required such a cell refuses its row anyway, and
says so by what is wrong with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from etl.load.columns import Column, Log
from etl.load.mapping import ISO, TypingOptions
from etl.load.quoting import literal

NO_DAYS = ("9999-12-31", "9999-12-30", "9999-01-01", "2999-12-31", "1899-12-30", "1899-12-31",
           "1900-01-00", "1900-01-01", "1753-01-01", "0001-01-01", "0000-00-00")
"""Last and first days of calendars of databases and spreadsheets (common practice, no source)."""
MIDNIGHTS = ("", " 00:00", " 00:00:00", "T00:00:00")
MONTHS = ("", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
READ_AS_NONE = "days that stand for none read as empty"


def stand_for_none(column: Column, options: TypingOptions) -> tuple[str, ...]:
    """Return the texts that stand for no day in a column of dates.

    Parameters
    ----------
    column : Column
    options : TypingOptions
        How its cells are written; what it declares under ``no_date`` counts in every column.

    Examples
    --------
    >>> from etl.load.columns import LOGS
    >>> german = TypingOptions(("%d.%m.%Y",))
    >>> "31.12.9999" in stand_for_none(LOGS["service_points"].column("retired_on"), german)
    True
    """
    declared = dict.fromkeys(options.no_date)
    if not column.is_required:
        for form in (ISO, *options.date_formats):
            declared |= dict.fromkeys(_written(form))
    return tuple(declared)


def _written(form: str) -> Iterable[str]:
    """Return the days as a date format writes them; none for years of two digits."""
    for iso in NO_DAYS:
        year, month, day = iso.split("-")
        for of_month, of_day in ((month, day), (str(int(month)), str(int(day)))):
            signs = {"%Y": year, "%m": of_month, "%d": of_day, "%b": MONTHS[int(month)],
                     "%H": "00", "%M": "00", "%S": "00", "%T": "00:00:00", "%f": "000000"}
            if set(re.findall("%.", form)) <= signs.keys():
                text = form
                for sign, shown in signs.items():
                    text = text.replace(sign, shown)
                yield from (text + midnight for midnight in MIDNIGHTS)


def without(text: str, listed: Iterable[str]) -> str:
    """Return SQL for a cell, empty where it is one of the listed texts.

    Nearly every day begins with a year of our time; those need not be looked up.
    """
    return (f"case when {text} is null or {_is_plain(text)} then {text} "
            f"when {text} not in ({_list(listed)}) then {text} end")


def _is_plain(text: str) -> str:
    return f"({text} >= '1950' and {text} < '2200')"


def _list(listed: Iterable[str]) -> str:
    return ", ".join(map(literal, listed))


def noted_statement(log: Log, found: Mapping[str, tuple[str, tuple[str, ...]]], where: str) -> str:
    """Return the statement that notes how many cells of a log stood for no day.

    Parameters
    ----------
    log : Log
    found : mapping of str to (str, tuple of str)
        Column -> SQL of its cell without outer blanks, and the texts that stand for none.
    where : str
        SQL condition of the rows.
    """
    parts = [
        f"select r.load_id, r.entry_no, '{name}' as column_name, {text} as cell\n"
        f"from raw.{log.name} as r\n"
        f"where {where} and not {_is_plain(text)} and {text} in ({_list(listed)})"
        for name, (text, listed) in found.items()
    ]
    union = "\nunion all\n".join(parts)
    return (
        f"insert into raw.corrections\n"
        f"select l.load_id, l.entry_no, l.source_file, c.column_name, '{READ_AS_NONE}', count(*),\n"
        f"    min(c.cell)\nfrom (\n{union}) as c\n"
        f"join raw.loads as l on l.load_id = c.load_id and l.entry_no = c.entry_no\n"
        f"group by all order by all"
    )
