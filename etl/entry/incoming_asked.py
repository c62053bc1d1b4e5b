"""What is open about a file on its way in, and only a person can say.

Pure functions: a choice and the looks of the columns in, questions out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from etl.entry.incoming_choice import Choice, columns_of
from etl.entry.incoming_days import days_of, serial_of, unknown_months
from etl.load.columns import Column
from etl.load.look import Look
from etl.load.mapping import TypingOptions
from etl.load.seeds import vocabulary
from etl.load.words import meanings, nearest_word

MOST_WORDS = 40
MARKS = (".", ",", ".,", ",.")
"""Decimal mark, and what parts thousands: the ways between which "1.250" cannot tell."""
THREE_BEHIND = re.compile(r"[-+]?\d{1,3}([.,]\d{3})+")
ANY_MARK = re.compile(r"[-+]?\d+[.,][\d.,]*")


def unused(choice: Choice, looks: Sequence[Look]) -> list[str]:
    """Return the columns of a file that hold something and fill none of ours."""
    return [look.name for look in looks
            if look.n_filled and look.name not in choice.columns.values()]


def date_choices(choice: Choice, looks: Sequence[Look]) -> list[str]:
    """Return the forms of days between which a person has to choose; none where it is clear."""
    by_name = {look.name: look for look in looks}
    mapped = [by_name[choice.columns[ours]] for ours, column in columns_of(choice.kind).items()
              if column.kind == "date" and choice.columns.get(ours) in by_name]
    open_ones = [look.date_formats for look in mapped if len(look.date_formats) > 1]
    return list(open_ones[0]) if open_ones else []


def unknown_words(choice: Choice, looks: Sequence[Look]) -> dict[str, list[tuple[str, int, str]]]:
    """Return the words of a file that the software does not know: column -> (word, rows, guess)."""
    by_name = {look.name: look for look in looks}
    out = {}
    for ours, column in columns_of(choice.kind).items():
        look = by_name.get(choice.columns.get(ours, ""))
        if look is None or column.kind != "word" or not look.values:
            continue
        known = {*column.words, *vocabulary(column.name)}
        found = [(word, n, _meaning(column, word)) for word, n in look.values[:MOST_WORDS]
                 if word.strip().casefold() not in known]
        if found:
            out[ours] = found
    return out


def _meaning(column: Column, word: str) -> str:
    near = nearest_word(column, word)
    return meanings(column, TypingOptions())[near] if near else ""


def has_money(choice: Choice) -> bool:
    """Tell whether a mapped column holds amounts."""
    return any(column.kind == "money" and ours in choice.columns
               for ours, column in columns_of(choice.kind).items())


def serial_choice(choice: Choice, looks: Sequence[Look], cells: Mapping[str, Sequence[str]],
                  ) -> tuple[str, dict[int, str]] | None:
    """Return a number among the days, and the day that it is by each calendar; None without one.

    Parameters
    ----------
    choice : Choice
    looks : sequence of Look
    cells : mapping of str to sequence of str
        Our column -> its cells that could not be read.
    """
    serial = serial_of(_days(choice, looks), _unread(choice, cells))
    return (serial, {year: day.isoformat() for year, day in days_of(serial).items()}
            ) if serial else None


def month_choices(choice: Choice, looks: Sequence[Look], cells: Mapping[str, Sequence[str]],
                  ) -> list[tuple[str, str]]:
    """Return the names of months to ask for, each with a cell; those named before stay.

    Parameters
    ----------
    choice, looks, cells
        As in `serial_choice`.
    """
    known = {name: n for name, n in choice.months.items() if name not in choice.months_said}
    found = dict(unknown_months(_days(choice, looks), known, _unread(choice, cells)))
    return list((dict.fromkeys(choice.months_said, "") | found).items())


def mark_choice(choice: Choice, looks: Sequence[Look]) -> str:
    """Return an amount or number that can be read in two ways; empty where the cells tell.

    Examples
    --------
    >>> from etl.load.look import look
    >>> made = Choice(kind="parts", columns={"unit_price": "P"})
    >>> mark_choice(made, [look("P", [("1.250", 3), ("980", 1)], 4, 2)])
    '1.250'
    >>> mark_choice(made, [look("P", [("1.250", 3), ("980,5", 1)], 4, 2)])
    ''
    """
    by_name = {look.name: look for look in looks}
    marked = [text.strip() for ours, column in columns_of(choice.kind).items()
              if column.kind in ("number", "integer", "money")
              and (look := by_name.get(choice.columns.get(ours, ""))) is not None
              for text, _ in look.values if ANY_MARK.fullmatch(text.strip())]
    is_open = {sign for text in marked for sign in text if sign in ".,"} in ({"."}, {","})
    return marked[0] if is_open and all(map(THREE_BEHIND.fullmatch, marked)) else ""


def _days(choice: Choice, looks: Sequence[Look]) -> list[Look]:
    """Return the columns that are to hold days."""
    by_name = {look.name: look for look in looks}
    return [by_name[theirs] for ours, column in columns_of(choice.kind).items()
            if column.kind == "date" and (theirs := choice.columns.get(ours)) in by_name]


def _unread(choice: Choice, cells: Mapping[str, Sequence[str]]) -> list[str]:
    return [cell for ours, column in columns_of(choice.kind).items() if column.kind == "date"
            for cell in cells.get(ours, ())]
