"""What the words of a log mean, and what to do about each fault: small tables for the SQL."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from etl.load.columns import LOGS, Log
from etl.load.mapping import TypingOptions
from etl.load.row_choice import TOO_LATE
from etl.load.row_faults import REGISTERS, RENAMED, UNKNOWN_POINT
from etl.load.swaps import IN_PART, OTHER_HOSE, TAGGED
from etl.load.typed_cells import (
    EMPTY,
    NO_CALENDAR,
    NO_WORD,
    OTHER_CURRENCY,
    TOO_LARGE,
    has_words,
)
from etl.load.words import meanings, nearest_word

TWO_HOSES = (
    "A place that holds two hoses at once is two service points: list each position in"
    " service_points and name it in the logs.")
"""How two hoses of one place are kept apart: nothing can tell which of them an event means."""
NO_DAY = ('Correct it; if it stands for no date, list it under no_date in columns.toml.')
REMEDIES = {
    EMPTY: "Fill it in, or map the column that holds it.",
    "is not a date": "Write it like 2024-02-29, or declare date_formats, and months where their"
                     " names are not English, in columns.toml.",
    NO_CALENDAR: "Give the column a date format in the spreadsheet and export it again, or declare"
                 " serial_days_from = 1900 (or 1904, the calendar of that workbook) in its [[file]]"
                 " entry of columns.toml.",
    "lies before 1950": NO_DAY,
    "lies after 2199": NO_DAY,
    "is not a number": "Write digits only, or declare decimal, thousands or units in columns.toml.",
    "is not a whole number": "Write a whole number.",
    "is not an amount": "Write digits only, or declare decimal and thousands in columns.toml.",
    OTHER_CURRENCY: 'Declare currency = "..." in columns.toml, or correct the cell; amounts of'
                    " another currency go into a file of their own, with its currency and rate.",
    "is negative": "Correct the sign; record a credit in the log that it belongs to.",
    TOO_LARGE: "Correct it, or map its unit in columns.toml.",
    "is not yes or no": "Write yes or no, or map the word in columns.toml.",
    "lies after the removal": "Correct one of the two dates.",
    "lies before the removal": "Correct one of the two dates.",
    "lies before the start": "Correct one of the two dates.",
    "is empty, and so is service_point or removed_on":
        "Give hose_id, or service_point and removed_on.",
    "is empty, and so is equipment": "Give the equipment or the service point.",
    UNKNOWN_POINT: "Add it to service_points, or correct the name.",
    RENAMED: "Remove the row; renamed_places in columns.toml leads its history to the other one.",
    TAGGED: "Name both under hoses in its [[swap]] of columns.toml, in the order of the places; one"
            " without a tag takes any name of its own.",
    OTHER_HOSE: "Correct places or hoses of its [[swap]] in columns.toml, or what the logs say.",
    IN_PART: "Correct its [[swap]] in columns.toml; until then both hoses stay where they were.",
    TOO_LATE: "Correct it, or choose a later data date.",
    "lies before the installation": "Correct one of the two dates.",
    "the hose went in only later":
        "Correct one of the two dates, or add the earlier installation of this hose.",
    "lies after the next installation at this place":
        "Correct the date or the tag; until then the stay ends when the next hose went in. "
        + TWO_HOSES,
}
"""What to do about each reason for which a row is refused."""
CONFLICT = "rows of one key disagree within one file"


def word_rows(
    groups: Mapping[str, Mapping[int, TypingOptions]],
) -> list[tuple[str, int, str, str, str]]:
    """Return log, typing group, column, word in lower case and its meaning, for every lookup.

    Parameters
    ----------
    groups : mapping of str to mapping of int to TypingOptions
        Typing groups of each log.

    Returns
    -------
    list of tuple
        A word declared in the mapping goes before the software's own meaning of it.
    """
    return [
        (log.name, number, column.name, word, meaning)
        for log in LOGS.values()
        for number, options in sorted(groups[log.name].items())
        for column in log.columns
        if has_words(column, options)
        for word, meaning in sorted(meanings(column, options).items())
    ]


def disputed_rows(
    groups: Mapping[str, Mapping[int, TypingOptions]],
) -> list[tuple[str, int, str, str]]:
    """Return log, typing group, old name of a place and those that mappings lead it to, as told."""
    return [(log, number, name, ", another to ".join(places))
            for log, options in groups.items()
            for number, one in sorted(options.items()) if one.pooled_names
            for name, places in sorted(one.pooled_names.disputed.items())]


def remedy_rows() -> list[tuple[str, str, str, str]]:
    """Return log, column, reason and remedy for every fault that a row can have."""
    return list(_remedies())


def _remedies() -> Iterator[tuple[str, str, str, str]]:
    for log in LOGS.values():
        for column in log.columns:
            for reason, remedy in REMEDIES.items():
                yield log.name, column.name, reason, remedy
            if column.words:
                yield (log.name, column.name, NO_WORD,
                       f"Use one of {', '.join(column.words)}, or map the word in columns.toml.")
        is_event = log.name in ("installations", "replacements")
        yield log.name, key_text(log), CONFLICT, (
            "Keep the right one, or map row_id." + (f" {TWO_HOSES}" if is_event else ""))


def near_rows(unknown: Iterable[tuple[str, str, str]]) -> list[tuple[str, str, str, str]]:
    """Return log, column, cell and the word that it may be a slip of, where there is one.

    Parameters
    ----------
    unknown : iterable of (str, str, str)
        Log, column and cell in which a word is not known.
    """
    near = ((log, name, cell, nearest_word(LOGS[log].column(name), cell))
            for log, name, cell in unknown)
    return [(log, name, cell, word) for log, name, cell, word in near if word is not None]


def key_text(log: Log) -> str:
    """Return the names of a log's key, as shown beside a conflict."""
    own = ", ".join(log.key)
    return own if log.name in REGISTERS else f"row_id or {own}"


def key_rows() -> Sequence[tuple[str, str]]:
    """Return log and the words for its key."""
    return [(log.name, key_text(log)) for log in LOGS.values()]
