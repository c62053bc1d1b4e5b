"""Names of months: the English ones, those that a mapping declares, and those to propose."""

from __future__ import annotations

import calendar
import functools
import re
import unicodedata
from collections.abc import Mapping, Sequence

from etl.load.quoting import literal, lowered
from etl.load.seeds import rows

ENGLISH = {name.lower(): number for names in (calendar.month_abbr, calendar.month_name)
           for number, name in enumerate(names) if name}
WORD = re.compile(r"([^\W\d_]+)(\.?)")
LETTERS = r"[\pL\pM\p{Nl}\p{No}]+"
"""One word, for the database; Roman numbers of one sign are no letters to it."""
LAST_SIGMA, SIGMA = "\u03c2", "\u03c3"
"""A name in capitals has one letter for both."""


def plain(name: str) -> str:
    """Return a name of a month in the form in which names are compared.

    Examples
    --------
    >>> plain("Févr.")
    'févr'
    """
    small = lowered(unicodedata.normalize("NFC", name.strip().rstrip(".")))
    return small.replace(LAST_SIGMA, SIGMA)


def number_of(word: str, declared: Mapping[str, int]) -> str:
    """Return SQL for the number of a month by its name, two digits; NULL where it is not known.

    Parameters
    ----------
    word : str
        SQL of the name, with or without a dot behind it.
    declared : mapping of str to int
        Names that a mapping declares; they go before the English ones.
    """
    known = ENGLISH | {plain(name): number for name, number in declared.items()}
    names = ", ".join(literal(name) for name in sorted(known))
    numbers = ", ".join(literal(f"{known[name]:02}") for name in sorted(known))
    small = f"replace(lower(nfc_normalize({word})), '{LAST_SIGMA}', '{SIGMA}')"
    return f"map([{names}], [{numbers}])[{small}]"


def in_english(texts: Sequence[str]) -> tuple[list[list[str]], tuple[tuple[str, int], ...]]:
    """Write cells with English names of months in place of those of another language.

    Parameters
    ----------
    texts : sequence of str

    Returns
    -------
    list of list of str
        The texts, once without and once with the dot behind a name: it may end a short form or
        part the day from the year. None where no cell holds the name of a month.
    tuple of (str, int)
        All names of months in the language, or languages, whose names stand in the cells, with
        their numbers; the English ones left away.

    Examples
    --------
    >>> found, names = in_english(["3. févr. 2020", "17. avr. 2020"])
    >>> found[0], dict(names)["août"]
    (['3. Feb 2020', '17. Apr 2020'], 8)
    """
    tables = [(row["language"], {name: number for number, name in enumerate(
        row["names"].split(), start=1)}) for row in rows("months")]
    every = {name: number for _, table in tables for name, number in table.items()}
    words = {plain(word) for text in texts for word, _ in WORD.findall(text)}
    found = words & every.keys()
    if not found:
        return [], ()
    spoken = [table for _, table in tables if found <= table.keys() | ENGLISH.keys()]
    if not spoken:  # short and long forms beside each other
        speak = {language for language, _ in tables if found <= ENGLISH.keys() | {
            name for of, table in tables if of == language for name in table}}
        spoken = [table for language, table in tables if language in speak]
    names = {name: number for table in spoken for name, number in table.items()
             if ENGLISH.get(name) != number}
    return with_names(texts, every), tuple(sorted(names.items()))


def with_names(texts: Sequence[str], numbers: Mapping[str, int]) -> list[list[str]]:
    """Write texts with English names of months, once without and once with the dot behind them.

    Parameters
    ----------
    texts : sequence of str
    numbers : mapping of str to int
        Names as `plain` writes them -> 1 to 12.

    Examples
    --------
    >>> with_names(["3 Oca. 2021"], {"oca": 1})
    [['3 Jan 2021'], ['3 Jan. 2021']]
    """
    def written(dot: str, match: re.Match[str]) -> str:
        number = numbers.get(plain(match[1]))
        return match[0] if number is None else calendar.month_abbr[number] + (match[2] and dot)

    return [[WORD.sub(functools.partial(written, dot), text) for text in texts]
            for dot in ("", ".")]
