"""What is open about a file on its way in, and only a person can say.

Pure functions: a choice and the looks of the columns in, questions out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from etl.entry.incoming_choice import NUMBERS, Choice, columns_of, looks_of, with_forms
from etl.entry.incoming_days import days_of, is_read, serial_of, unknown_months
from etl.entry.incoming_marks import open_mark
from etl.load.columns import Column
from etl.load.look import Look, twins
from etl.load.mapping import TypingOptions
from etl.load.seeds import vocabulary
from etl.load.words import bare_word, meanings, nearest_word

MOST_WORDS = 40
MOST_NAMES = 24
MAY = 5
"""A month of 31 days, whose name is short and long at once."""


def unused(choice: Choice, looks: Sequence[Look]) -> list[str]:
    """Return the columns of a file that hold something and fill none of ours."""
    return [look.name for look in looks
            if look.n_filled and look.is_named and look.name not in choice.columns.values()]


def date_choices(choice: Choice, looks: Sequence[Look]) -> list[str]:
    """Return the forms of days between which a person has to choose; none where it is clear."""
    days = [look.date_formats for look in looks_of(choice, looks, "date")]
    # Another column that is written alike tells it.
    clear = {form for forms in days for form in forms if form not in twins(forms)}
    open_ones = [twins(forms) for forms in days if not clear & {*twins(forms)}]
    return next((list(forms) for forms in open_ones if forms), [])


def unknown_words(choice: Choice, looks: Sequence[Look]) -> dict[str, list[tuple[str, int, str]]]:
    """Return the words of a file that the software does not know: column -> (word, rows, guess)."""
    by_name = {look.name: look for look in reversed(looks) if look.is_named}
    out = {}
    for ours, column in columns_of(choice.kind).items():
        look = by_name.get(choice.columns.get(ours, ""))
        if look is None or column.kind != "word" or not look.values:
            continue
        known = {*column.words, *vocabulary(column.name)}
        given = choice.words.get(ours, {})
        found = [(word, n, _meaning(column, word)) for word, n in look.values
                 if bare_word(word) and bare_word(word) not in known]
        # Those that were answered stay, and as many more as a page takes.
        open_ones = [item for item in found if item[0] not in given][:MOST_WORDS]
        if found:
            out[ours] = [item for item in found if item[0] in given or item in open_ones]
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
    serial = serial_of(looks_of(choice, looks, "date"), _unread(choice, cells))
    return (serial, {year: day.isoformat() for year, day in days_of(serial).items()}
            ) if serial else None


def month_choices(choice: Choice, looks: Sequence[Look], cells: Mapping[str, Sequence[str]],
                  ) -> list[tuple[str, str]]:
    """Return the names of months to ask for, each with a cell; those named before stay.

    A name is asked for only where a cell would be read once it is known.

    Parameters
    ----------
    choice, looks, cells
        As in `serial_choice`.
    """
    known = {name: n for name, n in choice.months.items() if name not in choice.months_said}
    asked = dict.fromkeys(choice.months_said, "")
    found = unknown_months(looks_of(choice, looks, "date"), known, _unread(choice, cells))
    told = {"months_said": dict.fromkeys(found, MAY) | choice.months_said}
    tried = with_forms(choice.model_copy(update=told), looks) if found else choice
    for name, texts in found.items():
        read = [text for text in texts if is_read(text, tried.date_formats, tried.months)]
        if read or name in asked:
            asked[name] = next(iter(read), texts[0])
    return list(asked.items())[:max(MOST_NAMES, len(choice.months_said))]


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
    return open_mark(looks_of(choice, looks, *NUMBERS))


def _unread(choice: Choice, cells: Mapping[str, Sequence[str]]) -> list[str]:
    return [cell for ours, column in columns_of(choice.kind).items() if column.kind == "date"
            for cell in cells.get(ours, ())]
