"""What a person chose about a file on its way in: what a row is, which column is which.

Pure functions: looks of columns in, a choice out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Literal

from etl.entry.incoming_days import as_days, forms_of_named
from etl.entry.incoming_marks import marks_among
from etl.load.columns import LOGS, Column, Log
from etl.load.look import Look, twins
from etl.load.mapping import ISO
from etl.load.place_history import Strict
from etl.load.propose import fill, fill_all, guess_log, stated_unit
from etl.load.seeds import rows, vocabulary
from etl.load.words import bare_word

STAYS = "stays"
KINDS: dict[str, tuple[str, ...]] = {
    STAYS: ("service_points", "installations", "replacements"),
    **{log: (log,) for log in LOGS},
}
"""What one row of a file can be, and the logs that it feeds."""
NEEDED = ("service_points", "installations", "replacements")
"""Logs without which there is no life, and so no ranking."""
STANDING = {"application_class": "all places", "reason": "unknown"}
"""What stands in for a required column that a file lacks, the same in every row."""
HIDDEN = ("row_id", "deleted")
NUMBERS = ("number", "integer", "money")
MOST_FOREIGN = 0.25
"""A column is taken for one of ours by its cells where more than this share are known words."""


class Choice(Strict):
    """What one row of a file is, and how its cells are to be read."""

    kind: str
    columns: dict[str, str] = {}
    """Our column -> the file's."""
    words: dict[str, dict[str, str]] = {}
    """Our column -> the file's word -> ours."""
    units: dict[str, str] = {}
    date_formats: list[str] = []
    months: dict[str, int] = {}
    """Names of months in the days, where they are not English."""
    months_said: dict[str, int] = {}
    """Those that a person named, since no table of months knows them."""
    serial_days_from: Literal[1900, 1904] | None = None
    """Calendar from which plain numbers in columns of days count."""
    marks_said: str = ""
    """Decimal mark and, if any, the mark between thousands, where a person chose them."""
    keep_column: str = ""
    keep_words: str = ""
    """Only rows whose cell of that column holds one of these words, parted by commas, count."""
    decimal: str = "."
    thousands: str = ""
    currency: str = ""
    rate: str = ""
    """What one of that currency is in the one of the other files; as a decimal number."""
    header: list[str] = []
    """Columns of the file, so that a later file of the same form is known again."""
    header_row: int | None = None


def columns_of(kind: str) -> dict[str, Column]:
    """Return the columns that a row of a kind may fill, those that must be first."""
    every = {column.name: column for log in KINDS[kind] for column in LOGS[log].columns
             if column.name not in HIDDEN}
    needed = [name for log in KINDS[kind] for name in LOGS[log].required]
    return {name: every[name] for name in dict.fromkeys([*needed, *every])}


def needed_of(kind: str) -> tuple[str, ...]:
    """Return the columns that a file of a kind cannot do without."""
    required = dict.fromkeys(name for log in KINDS[kind] for name in LOGS[log].required)
    return tuple(name for name in required if name not in STANDING)


def guess(file: str, looks: Sequence[Look], header_row: int | None,
          before: Sequence[Choice] = (), kind: str | None = None) -> Choice:
    """Return the choice to start from: that of an earlier file of the same form, else a guess.

    Parameters
    ----------
    file : str
        Name of the file.
    looks : sequence of Look
        Its columns.
    header_row : int or None
        Line of the header, where it is not the first.
    before : sequence of Choice
        Of earlier files.
    kind : str or None
        What one row is, where that was said.
    """
    header = [look.name for look in looks if look.is_named]
    for known in before:
        if known.header == header:
            return with_forms(known.model_copy(update={"header_row": header_row}), looks)
    looks = [as_days(look) for look in looks if look.is_named]
    days = [look.name for look in looks if look.looks_like == "days"]
    if kind is None:
        log = guess_log(file, looks)
        is_stays = log is None or (len(days) > 1 and log.name in NEEDED)
        kind = STAYS if is_stays or log is None else log.name
    filled = (fill(Log(kind, tuple(columns_of(kind).values()), (), ""), looks) if kind == STAYS
              else fill_all(LOGS[kind], looks))
    if kind == STAYS:
        filled = _stays(filled, looks, days)
    choice = Choice(kind=kind, columns=filled, header=header, header_row=header_row)
    return with_forms(choice, looks)


def _stays(filled: dict[str, str], looks: Sequence[Look], days: Sequence[str]) -> dict[str, str]:
    """Fill what a file of stays must have by the look of its columns, where no name tells."""
    out = {ours: theirs for ours, theirs in filled.items()
           if ours not in ("installed_on", "removed_on") or theirs in days or not days}
    for ours, day in zip(("installed_on", "removed_on"), days, strict=False):
        if ours not in out and day not in out.values():
            out[ours] = day
    if "service_point" not in out:
        # A place comes again from row to row; of such columns the one that tells most apart.
        free = [look for look in looks if look.name not in out.values()
                and look.looks_like in ("words", "text") and 1 < look.n_different < look.n_filled]
        likely = [look.name for look in sorted(free, key=lambda look: -look.n_different)]
        found = [name for name in (out.pop("equipment", None), *likely) if name]
        if found:
            out["service_point"] = found[0]
    if "reason" not in out and (told := _by_its_words("reason", looks, out)):
        out["reason"] = told
    return out


def _by_its_words(ours: str, looks: Sequence[Look], taken: Mapping[str, str]) -> str | None:
    """Return the free column most of whose cells are words known for one of ours, None without."""
    known, best, best_share = vocabulary(ours), None, MOST_FOREIGN
    for look in looks:
        n = sum(n for _, n in look.values)
        if look.name in taken.values() or not n:
            continue
        share = sum(n for word, n in look.values if bare_word(word) in known) / n
        if share > best_share:
            best, best_share = look.name, share
    return best


def with_forms(choice: Choice, looks: Sequence[Look]) -> Choice:
    """Return a choice with the forms of days and numbers that its columns show.

    A form of days that was chosen stays where the column's cells fit it.
    """
    days, numbers = looks_of(choice, looks, "date"), looks_of(choice, looks, *NUMBERS)
    formats: dict[str, None] = {}
    for look in days:
        fitting = look.date_formats or forms_of_named(look, choice.months_said)
        open_ones = twins(fitting)
        formats |= dict.fromkeys(form for form in fitting if form not in open_ones)
    for look in days:
        if open_ones := twins(look.date_formats):
            formats[_order(open_ones, choice.date_formats, formats)] = None
    formats.pop(ISO, None)
    money = [look.currency for look in looks_of(choice, looks, "money") if look.currency]
    decimal, thousands = marks_among(numbers, choice.marks_said)
    months = dict(pair for look in days for pair in look.months)
    return choice.model_copy(update={
        "date_formats": list(formats), "months": months | choice.months_said, "decimal": decimal,
        "thousands": thousands, "currency": choice.currency or next(iter(money), "")})


def looks_of(choice: Choice, looks: Sequence[Look], *kinds: str) -> list[Look]:
    """Return the looks of the columns that fill ours of some kinds."""
    by_name = {look.name: look for look in reversed(looks) if look.is_named}
    return [by_name[theirs] for ours, column in columns_of(choice.kind).items()
            if column.kind in kinds and (theirs := choice.columns.get(ours)) in by_name]


def _order(open_ones: Sequence[str], said: Sequence[str], clear: Mapping[str, None]) -> str:
    """Return which of two forms counts: as the file's other days, as was said, else day first.

    What is said of one column goes for all of the file, whatever stands between day and month.
    """
    for known in (clear, said):
        if same := [form for form in open_ones if form in known]:
            return same[0]
    for known in ([form for form in said if form not in clear], clear):
        orders = {form[:2] for form in known} & {"%d", "%m"}
        if len(orders) == 1:
            return next(form for form in open_ones if form[:2] in orders)
    return open_ones[0]


def unit_choices(choice: Choice) -> dict[str, tuple[str, list[str]]]:
    """Return for each mapped column with a unit the unit taken, and those it may be written in."""
    out = {}
    for ours, column in columns_of(choice.kind).items():
        if ours in choice.columns and column.unit:
            known = [row["unit"] for row in rows("units") if row["stored_unit"] == column.unit]
            taken = (choice.units.get(ours) or stated_unit(column, choice.columns[ours])
                     or column.unit)
            out[ours] = (taken, known)
    return out


def reporting(choices: Mapping[str, Choice]) -> str:
    """Return the currency of the first file that states one; the others are turned into it."""
    return next((item.currency for _, item in sorted(choices.items())
                 if item.currency and not has_rate(item)),
                next((item.currency for item in choices.values() if item.currency), ""))


def has_rate(choice: Choice) -> bool:
    """Tell whether a usable rate was given for a file's currency."""
    return re.fullmatch(r"\d*\.?\d+", choice.rate) is not None and 1e-9 <= float(choice.rate) <= 1e6


def is_foreign(choice: Choice, currency: str) -> bool:
    """Tell whether a file's amounts are in another currency than the reporting one."""
    return choice.currency not in ("", currency)
