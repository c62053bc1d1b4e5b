"""SQL that turns the text of one cell into its type, and the faults that a cell can have.

Each kind of column gives one expression over ``s_<column>`` (the cell without outer blanks, NULL
when empty) and the conditions under which the cell keeps its row out. A bad cell is never
corrected silently: it is either read by a declared rule or refused with a reason.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from etl.load.columns import Column, Log
from etl.load.currency import BLANKS as MARK_BLANKS
from etl.load.currency import before_or_after, mark_pattern
from etl.load.mapping import TypingOptions
from etl.load.quoting import BLANK_SIGNS, literal
from etl.load.seeds import conversion, vocabulary
from etl.load.typed_days import SERIAL, date_value
from etl.load.words import SEVERAL, meanings

BLANKS = literal(BLANK_SIGNS)
"""DuckDB's trim() alone takes off only spaces."""
EARLIEST, LATEST = "1950-01-01", "2199-12-31"
MAY_BE_NEGATIVE = {"temperature_c", "pressure_bar", "reading"}
LARGEST, LARGEST_COUNT = "1e12", "1e8"
LARGEST_BY_UNIT = {"d": "1e5", "h": "1e6"}
"""No cost, stiffness or meter of cycles, no number of things, no span of days and no stop comes
near: later steps add, multiply and step through days safely, with all of them at once."""
LARGEST_OF = {"early_failure_limit": "1", "expected_life_ratio": "1e6",
              "expected_life_ratio_log_sd": "10"}
"""A chance; lives a million times as long; a logarithm whose exponential is still a number."""
COUNTS = {"on_hand", "on_order"}
MAY_BE_LARGE = {"coin_seed"}
ALIKE = (" \u00a0\u202f", "'\u2019")
"""Marks of thousands that look alike: whoever declares one of them means the others, too."""
SQL_TYPES = {
    "text": "varchar", "tag": "varchar", "date": "date", "number": "double", "integer": "bigint",
    "money": "decimal(18, 2)", "yes_no": "boolean", "word": "varchar", "words": "varchar[]",
}
EMPTY, NEGATIVE, TOO_LARGE = "is empty", "is negative", "is too large to be true"
NO_CALENDAR = "is a number of days, and from which year it counts is not declared"
OTHER_CURRENCY = "bears the mark of a currency that is not declared for it"
NO_WORD = "is not one of the known words"
UNREADABLE = {
    "date": "is not a date", "number": "is not a number", "integer": "is not a whole number",
    "money": "is not an amount", "yes_no": "is not yes or no", "word": NO_WORD, "words": NO_WORD,
}
MARKED = {"date": NO_CALENDAR, "money": OTHER_CURRENCY}
"""What is said instead of cells that bear a mark: a serial of days, a sign of money."""


@dataclass(frozen=True)
class TypedCell:
    """How one column is read: its value and its faults as (SQL condition, reason)."""

    value: str
    faults: tuple[tuple[str, str], ...]
    is_read: bool = True
    """False where no row has such a cell, so that there is nothing to trim or look up."""
    marked: str | None = None
    """Tells, as ``m_<column>``, whether an unread cell bears a mark that says why; else NULL."""


def typed_cell(column: Column, options: TypingOptions) -> TypedCell:
    """Return how the cells of `column` are read under the declared options.

    Parameters
    ----------
    column : Column
        From the catalogue.
    options : TypingOptions
        Date formats, decimal mark, words and units declared for the file.

    Returns
    -------
    TypedCell
        SQL over ``s_<column>``, and over ``w_<column>.meaning`` where words are looked up.
    """
    name, cell = column.name, f"s_{column.name}"
    if column.kind == "date":
        value = date_value(cell, options)
    elif column.kind in ("number", "integer", "money"):
        value = number_value(column, cell, options)
    elif column.kind == "yes_no":
        value = f"w_{name}.meaning = 'yes'"
    elif column.kind == "word":
        value = f"w_{name}.meaning"
    elif column.kind == "words":
        value = words_value(cell, meanings(column, options))
    elif has_words(column, options):
        value = f"nullif(coalesce(w_{name}.meaning, {cell}), '')"
    else:
        value = cell
    return TypedCell(value, tuple(_faults(column)), marked=_marked(column))


def cells_of(log: Log, options: TypingOptions,
             filled: Collection[str] | None) -> dict[str, TypedCell]:
    """Return how each column of a log is read; those empty in every row spare the work.

    Parameters
    ----------
    log : Log
    options : TypingOptions
        As for `typed_cell`.
    filled : collection of str or None
        Columns in which some row has a cell; None takes all for filled.
    """
    cells = {}
    for column in log.columns:
        # Always made, so that a wrong declaration is told whatever the rows hold.
        cell = typed_cell(column, options)
        has_meaning = has_words(column, options) and "" in meanings(column, options)
        if filled is not None and column.name not in filled and not has_meaning:
            faults = ((f"t_{column.name} is null and not is_taken_back", EMPTY),)
            cell = TypedCell(f"null::{SQL_TYPES[column.kind]}",
                             faults if column.is_required else (), False)
        cells[column.name] = cell
    return cells


def has_words(column: Column, options: TypingOptions) -> bool:
    """Return whether cells of `column` are looked up as a whole in a list of words."""
    return column.kind in ("yes_no", "word") or (
        column.kind in ("text", "tag")
        and (column.name in options.words or bool(vocabulary(column.name))))


def _faults(column: Column) -> list[tuple[str, str]]:
    typed, cell = f"t_{column.name}", f"s_{column.name}"
    faults = []
    if column.is_required:
        faults.append((f"{typed} is null and {cell} is null and not is_taken_back", EMPTY))
    if column.kind in MARKED:
        faults += [(f"m_{column.name}", MARKED[column.kind]),
                   (f"not m_{column.name}", UNREADABLE[column.kind])]
    elif column.kind in UNREADABLE:
        faults.append((f"{typed} is null and {cell} is not null", UNREADABLE[column.kind]))
    if column.kind == "date":
        faults.append((f"{typed} < date '{EARLIEST}'", "lies before 1950"))
        faults.append((f"{typed} > date '{LATEST}'", "lies after 2199"))
    if column.kind in ("number", "integer", "money") and column.name not in MAY_BE_NEGATIVE:
        faults.append((f"{typed} < 0", NEGATIVE))
    if column.kind in ("number", "integer", "money") and column.name not in MAY_BE_LARGE:
        size = f"abs({typed})" if column.name in MAY_BE_NEGATIVE else typed
        faults.append((f"{size} > {largest(column)}", TOO_LARGE))
    return faults


def _marked(column: Column) -> str | None:
    """Return SQL that looks once at a cell that could not be read; nearly all are."""
    pattern = {"date": SERIAL, "money": _marked_amount()}.get(column.kind)
    if pattern is None:
        return None
    cell = f"s_{column.name}"
    return (f"case when t_{column.name} is null and {cell} is not null "
            f"then regexp_full_match({cell}, {literal(pattern)}) end")


def _marked_amount() -> str:
    """Return the pattern of an amount beside the mark of any currency."""
    mark, amount = mark_pattern(), "[-+]?[0-9][0-9.,' \u00a0\u202f]*"
    return f"(?i)({mark}{MARK_BLANKS}{amount}|{amount}{mark})"


def largest(column: Column) -> str:
    """Return the number above which a cell cannot be true."""
    if column.name in LARGEST_OF:
        return LARGEST_OF[column.name]
    if column.kind == "integer" or column.name in COUNTS:
        return LARGEST_COUNT
    return LARGEST_BY_UNIT.get(column.unit, LARGEST)


def number_value(column: Column, cell: str, options: TypingOptions) -> str:
    """Return SQL that reads a number; digits are grouped only as the mapping declares.

    An amount may bear the mark of the declared currency.
    """
    if column.kind == "money" and options.currency:
        plain = replace(options, currency="")
        bare = f"regexp_replace({cell}, {literal(before_or_after(options.currency))}, '')"
        return (f"coalesce({number_value(column, cell, plain)}, "
                f"{number_value(column, bare, plain)})")
    text = cell
    if options.thousands or options.decimal != ".":
        whole, mark = r"\d+", re.escape(options.decimal)
        if options.thousands:
            signs = "".join(next((alike for alike in ALIKE if options.thousands in alike),
                                 options.thousands))
            whole = rf"(\d{{1,3}}([{signs}]\d{{3}})+|\d+)"
            text = f"translate({text}, {literal(signs)}, '')"
        if options.decimal != ".":
            text = f"replace({text}, {literal(options.decimal)}, '.')"
        shape = literal(rf"[+-]?({whole}({mark}\d*)?|{mark}\d+)([eE][+-]?\d+)?")
        text = f"case when regexp_full_match({cell}, {shape}) then {text} end"
    else:
        text = f"case when not contains({cell}, '_') then {cell} end"
    unit = options.units.get(column.name, column.unit)
    factor, offset = (1.0, 0.0) if unit == column.unit else conversion(unit, column.unit)
    if column.kind == "money":
        amount = f"try_cast({text} as decimal(18, 2))"
        if options.rate == "1":
            return amount
        exact = f"{amount}::decimal(22, 2) * {options.rate}::decimal(16, 9)"  # fits 38 digits
        return f"try_cast({exact} as decimal(18, 2))"
    if column.kind == "integer":
        return (f"case when regexp_full_match({text}, '[+-]?\\d+(\\.0+)?') "
                f"then try_cast({text} as bigint) end")
    number = f"try_cast({text} as double)"
    if (factor, offset) != (1.0, 0.0):
        number = f"({number} * {factor!r} + {offset!r})"
    return f"case when isfinite({number}) then {number} end"


def words_value(cell: str, known: Mapping[str, str]) -> str:
    """Return SQL that reads several words; NULL when one of them is unknown."""
    parts = (f"list_filter(list_transform(regexp_split_to_array({cell}, '{SEVERAL}'), "
             f"lambda w: lower(trim(w, {BLANKS}))), lambda w: w <> '')")
    words = ", ".join(literal(word) for word in sorted(known))
    meant = ", ".join(literal(known[word]) for word in sorted(known))
    found = f"list_transform({parts}, lambda w: map([{words}], [{meant}])[w])"
    meant = (f"list_filter(flatten(list_transform({found}, lambda w: string_split(w, ' '))), "
             f"lambda w: w <> '')")
    return (f"case when {cell} is not null and len(list_filter({found}, lambda w: w is null)) = 0 "
            f"then list_sort(list_distinct({meant})) end")
