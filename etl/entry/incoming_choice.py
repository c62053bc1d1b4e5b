"""What a person chose about a file on its way in: what a row is, which column is which.

Pure functions: looks of columns in, a choice out; a choice in, the lines of ``columns.toml`` out.
"""

from __future__ import annotations

import glob
import re
from collections.abc import Mapping, Sequence
from typing import Any

from etl.load.columns import LOGS, Column, Log
from etl.load.look import Look
from etl.load.mapping import ISO, TypingOptions
from etl.load.place_history import Strict
from etl.load.propose import fill, guess_log
from etl.load.quoting import quoted
from etl.load.seeds import rows, vocabulary
from etl.load.words import meanings, nearest_word

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
MOST_WORDS = 40
MOST_FOREIGN = 0.25
"""A column is taken for one of ours by its cells where more than this share are known words."""
FILLED = r"\S"


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
    header = [look.name for look in looks]
    for known in before:
        if known.header == header:
            return known.model_copy(update={"header_row": header_row})
    days = [look.name for look in looks if look.looks_like == "days"]
    if kind is None:
        log = guess_log(file, looks)
        is_stays = log is None or (len(days) > 1 and log.name in NEEDED)
        kind = STAYS if is_stays or log is None else log.name
    filled = fill(Log(kind, tuple(columns_of(kind).values()), (), ""), looks)
    if kind == STAYS and len(days) > 1:
        filled = _stays(filled, looks, days)
    choice = Choice(kind=kind, columns=filled, header=header, header_row=header_row)
    return with_forms(choice, looks)


def _stays(filled: dict[str, str], looks: Sequence[Look], days: Sequence[str]) -> dict[str, str]:
    """Fill what a file of stays must have by the look of its columns, where no name tells."""
    out = {ours: theirs for ours, theirs in filled.items()
           if ours not in ("installed_on", "removed_on") or theirs in days}
    for ours, day in (("installed_on", days[0]), ("removed_on", days[1])):
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
        share = sum(n for word, n in look.values if word.strip().casefold() in known) / n
        if share > best_share:
            best, best_share = look.name, share
    return best


def unused(choice: Choice, looks: Sequence[Look]) -> list[str]:
    """Return the columns of a file that hold something and fill none of ours."""
    return [look.name for look in looks
            if look.n_filled and look.name not in choice.columns.values()]


def with_forms(choice: Choice, looks: Sequence[Look]) -> Choice:
    """Return a choice with the forms of days and numbers that its columns show.

    A form of days that was chosen stays where the column's cells fit it.
    """
    by_name = {look.name: look for look in looks}
    formats: dict[str, None] = {}
    months: dict[str, int] = {}
    marks = set()
    currency = choice.currency
    for ours, column in columns_of(choice.kind).items():
        look = by_name.get(choice.columns.get(ours, ""))
        if look is None:
            continue
        if column.kind == "date" and look.date_formats:
            chosen = [item for item in choice.date_formats if item in look.date_formats]
            formats[(chosen or list(look.date_formats))[0]] = None
            months |= dict(look.months)
        if column.kind == "money":
            currency = currency or look.currency
        if column.kind in ("number", "integer", "money") and look.decimal:
            marks.add((look.decimal, look.thousands or ""))
    formats.pop(ISO, None)
    decimal, thousands = max(marks, default=(".", ""), key=lambda mark: (mark[0] == ",", mark[1]))
    return choice.model_copy(update={
        "date_formats": list(formats), "months": months, "decimal": decimal,
        "thousands": thousands, "currency": currency})


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


def unit_choices(choice: Choice) -> dict[str, tuple[str, list[str]]]:
    """Return for each mapped column with a unit the unit taken, and those it may be written in."""
    out = {}
    for ours, column in columns_of(choice.kind).items():
        if ours in choice.columns and column.unit:
            known = [row["unit"] for row in rows("units") if row["stored_unit"] == column.unit]
            stated = [word for word in re.split(r"[\s()\[\],_]+", choice.columns[ours])
                      if word in known]
            taken = choice.units.get(ours) or (stated[-1] if stated else column.unit)
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


def mapping_text(choices: Mapping[str, Choice], currency: str = "") -> str:
    """Return the text of ``columns.toml`` for files by their names.

    Parameters
    ----------
    choices : mapping of str to Choice
    currency : str
        Reporting currency of the store; empty takes that of the files. Amounts in another one
        without a rate are left aside.
    """
    currency = currency or reporting(choices)
    top = [f"currency = {quoted(currency)}\n"] if currency else []
    rates = {item.currency: item.rate for item in choices.values()
             if item.currency not in ("", currency) and has_rate(item)}
    if rates:
        top += ["[rates]", *(f"{quoted(name)} = {float(rate)!r}"
                             for name, rate in rates.items()), ""]
    return "\n".join([*top, *(_entry(file, log, choice, currency)
                              for file, choice in sorted(choices.items())
                              for log in KINDS[choice.kind])])


def is_foreign(choice: Choice, currency: str) -> bool:
    """Tell whether a file's amounts are in another currency than the reporting one."""
    return choice.currency not in ("", currency)


def _entry(file: str, log: str, choice: Choice, currency: str) -> str:
    """Return one ``[[file]]`` table."""
    names = LOGS[log].names
    is_foreign_here = is_foreign(choice, currency)
    mine = {ours: theirs for ours, theirs in choice.columns.items() if ours in names
            and not (is_foreign_here and not has_rate(choice)
                     and LOGS[log].column(ours).kind == "money")}
    keys: dict[str, Any] = {"match": glob.escape(file), "log": log}
    lines = ["[[file]]", *(f"{key} = {quoted(text)}" for key, text in keys.items())]
    if choice.header_row:
        lines.append(f"header_row = {choice.header_row}")
    if choice.date_formats:
        lines.append(f"date_formats = [{', '.join(map(quoted, choice.date_formats))}]")
    if is_foreign_here and has_rate(choice):
        lines.append(f"currency = {quoted(choice.currency)}")
    lines += [f"decimal = {quoted(choice.decimal)}", f"thousands = {quoted(choice.thousands)}"]
    aside = [name for name in choice.header if name not in mine.values()
             and not re.fullmatch(r"column \d+", name)]
    lines.append(f"ignore = [{', '.join(quoted(name) for name in aside)}]")
    lines += ["[file.columns]", *(f"{ours} = {quoted(theirs)}" for ours, theirs in mine.items())]
    if choice.months:
        lines += ["[file.months]", *(f"{quoted(k)} = {n}" for k, n in choice.months.items())]
    standing = {name: text for name, text in STANDING.items()
                if name in LOGS[log].required and name not in mine}
    if standing:
        lines += ["[file.constants]",
                  *(f"{key} = {quoted(text)}" for key, text in standing.items())]
    for ours in mine:
        given = {word: ours_word for word, ours_word in choice.words.get(ours, {}).items()
                 if ours_word}
        if given:
            lines += [f"[file.words.{ours}]",
                      *(f"{quoted(word)} = {quoted(text)}" for word, text in given.items())]
    units = {ours: unit for ours, (unit, _) in unit_choices(choice).items()
             if ours in mine and unit != LOGS[log].column(ours).unit}
    if units:
        lines += ["[file.units]", *(f"{ours} = {quoted(unit)}" for ours, unit in units.items())]
    if choice.kind == STAYS and log == "replacements" and "removed_on" in mine:
        lines += ["[file.keep]", f"{quoted(mine['removed_on'])} = {quoted(FILLED)}"]
    return "\n".join(lines) + "\n"
