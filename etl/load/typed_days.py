"""SQL that reads the text of a cell as a day: ISO, or as the mapping declares."""

from __future__ import annotations

import re
from collections.abc import Mapping

from etl.errors import InputError
from etl.load.cell_text import EPOCHS
from etl.load.mapping import TypingOptions
from etl.load.months import LETTERS, number_of
from etl.load.quoting import literal

ISO_WITH_TIME = r"\d{4}-\d{2}-\d{2}[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?"
DIRECTIVES = {
    "%d": r"\d{1,2}", "%m": r"\d{1,2}", "%Y": r"\d{4}", "%y": r"\d{2}", "%H": r"\d{1,2}",
    "%I": r"\d{1,2}", "%M": r"\d{2}", "%S": r"\d{2}", "%f": r"\d{1,9}", "%p": "[AaPp][Mm]",
    "%b": "[A-Za-z]{3}", "%B": "[A-Za-z]+", "%a": "[A-Za-z]{3}", "%A": "[A-Za-z]+", "%%": "%",
    "%j": r"\d{1,3}", "%T": r"\d{1,2}:\d{2}:\d{2}", "%z": r"[+-]\d{2}(?::?\d{2})?",
    "%Z": "[A-Za-z/_]+",
}
SERIAL = r"[1-9]\d{4}([.,]\d+)?"
"""A day as a spreadsheet keeps it: 10000 is in 1927 or 1931, 99999 in 2173 or 2177."""


def date_value(cell: str, options: TypingOptions) -> str:
    """Return SQL that reads a day: ISO, ISO with a time, or one of the declared formats."""
    iso = (
        f"case when {cell} like '____-__-__' then try_cast({cell} as date) "
        f"when regexp_full_match({cell}, {literal(ISO_WITH_TIME)}) "
        f"then try_cast(left({cell}, 10) as date) end"
    )
    declared = [
        _declared_date(cell, form, options.two_digit_year_pivot, options.months)
        for form in options.date_formats if form != "%Y-%m-%d"
    ]
    if options.serial_days_from is not None:
        day_0 = EPOCHS[options.serial_days_from].isoformat()
        # Cut, not rounded: an event late in the evening stays on its day.
        declared.append(f"case when regexp_full_match({cell}, {literal(SERIAL)}) "
                        f"then date '{day_0}' + left({cell}, 5)::integer end")
    if len(declared) > 1:
        several = ", ".join(declared)
        declared = [f"case when least({several}) = greatest({several}) then least({several}) end"]
    return f"coalesce({', '.join([iso, *declared])})" if declared else iso


def _declared_date(cell: str, form: str, pivot: int, months: Mapping[str, int]) -> str:
    """Return SQL for one format; a two-digit year gets its century before it is read.

    A time zone is left unread: the day is the one that is written, not the one in another zone.
    """
    text, form = _month_by_number(cell, form, months) if months else (cell, form)
    pattern, cell = date_pattern(form), text
    for zone in ("%z", "%Z"):
        if zone in form:
            before, after = form.split(zone, 1)
            parts = literal(f"^({date_pattern(before)}){DIRECTIVES[zone]}({date_pattern(after)})$")
            text, form = f"regexp_replace({text}, {parts}, '\\1\\2')", before + after
    if "%f" in form:  # the database takes six digits, other programs write up to nine
        before, after = (date_pattern(part) for part in form.split("%f", 1))
        parts = literal(f"^({before}){DIRECTIVES['%f']}({after})$")
        text = f"regexp_replace({text}, {parts}, '\\10\\2')"
    if "%y" in form:
        before, after = (date_pattern(part) for part in form.split("%y", 1))
        digits = literal(f"^{before}(\\d{{2}}){after}$")
        year = f"regexp_extract({text}, {digits}, 1)"
        century = f"case when try_cast({year} as integer) < {int(pivot)} then '20' else '19' end"
        parts = literal(f"^({before})(\\d{{2}})({after})$")
        text = f"regexp_replace({text}, {parts}, '\\1' || {century} || '\\2\\3')"
        form = form.replace("%y", "%Y")
    read = f"try_strptime({text}, {literal(form)})"
    return f"case when regexp_full_match({cell}, {literal(pattern)}) then {read}::date end"


def _month_by_number(cell: str, form: str, months: Mapping[str, int]) -> tuple[str, str]:
    """Return SQL for a cell with the month's number in place of its name, and the format for it."""
    named = re.search("%[bB]", form)
    if named is None:
        return cell, form
    before, after = (date_pattern(part) for part in (form[:named.start()], form[named.end():]))
    word = literal(f"^{before}({LETTERS})\\.?{after}$")
    number = number_of(f"regexp_extract({cell}, {word}, 1)", months)
    parts = literal(f"^({before}){LETTERS}\\.?({after})$")
    # A name that is not known leaves the cell unread.
    text = f"regexp_replace({cell}, {parts}, '\\1' || {number} || '\\2')"
    return text, form[:named.start()] + "%m" + form[named.end():]


def date_pattern(form: str) -> str:
    r"""Return the pattern that a cell must have to be read by a date format.

    Parameters
    ----------
    form : str
        A format such as ``"%d.%m.%Y"``.

    Returns
    -------
    str
        A regular expression without groups.

    Raises
    ------
    InputError
        The format holds an unknown directive.

    Examples
    --------
    >>> print(date_pattern("%d.%m.%Y"))
    \d{1,2}\.\d{1,2}\.\d{4}
    """
    pattern = ""
    for part in re.findall(r"%.|[^%]+|%$", form):
        if part.startswith("%"):
            if part not in DIRECTIVES:
                raise InputError(
                    f"columns.toml: date format {form!r} holds {part!r}. "
                    f"Use one of: {' '.join(DIRECTIVES)}."
                )
            pattern += DIRECTIVES[part]
        else:
            pattern += re.escape(part).replace("\\ ", " ").replace("\\-", "-")
    return pattern
