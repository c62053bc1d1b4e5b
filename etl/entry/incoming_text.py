"""The lines of ``columns.toml`` for what a person chose about files on their way in."""

from __future__ import annotations

import glob
import re
from collections.abc import Mapping
from typing import Any

from etl.entry.incoming_choice import (
    KINDS,
    STANDING,
    STAYS,
    Choice,
    has_rate,
    is_foreign,
    reporting,
    unit_choices,
)
from etl.load.columns import LOGS
from etl.load.quoting import quoted

FILLED = r"\S"


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


def keep_pattern(words: str) -> str:
    """Return the pattern of the cells that hold one of several words, in either case.

    Examples
    --------
    >>> keep_pattern("hose, Schlauch "), keep_pattern(" , ")
    ('(?i)hose|Schlauch', '')
    """
    kept = [re.escape(word.strip()) for word in words.split(",") if word.strip()]
    return "(?i)" + "|".join(kept) if kept else ""


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
    if choice.serial_days_from and any(LOGS[log].column(ours).kind == "date" for ours in mine):
        lines.append(f"serial_days_from = {choice.serial_days_from}")
    if choice.date_formats:
        lines.append(f"date_formats = [{', '.join(map(quoted, choice.date_formats))}]")
    if is_foreign_here and has_rate(choice):
        lines.append(f"currency = {quoted(choice.currency)}")
    lines += [f"decimal = {quoted(choice.decimal)}", f"thousands = {quoted(choice.thousands)}"]
    aside = [name for name in choice.header if name not in mine.values()]
    lines.append(f"ignore = [{', '.join(quoted(name) for name in aside)}]")
    return "\n".join([*lines, *_tables(log, choice, mine)]) + "\n"


def _tables(log: str, choice: Choice, mine: Mapping[str, str]) -> list[str]:
    """Return the tables of an entry: columns, months, constants, words, units, rows that count."""
    lines = ["[file.columns]", *(f"{ours} = {quoted(theirs)}" for ours, theirs in mine.items())]
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
    keep = _kept(log, choice, mine)
    if keep:
        lines += ["[file.keep]", *(f"{quoted(name)} = {quoted(text)}"
                                   for name, text in keep.items())]
    return lines


def _kept(log: str, choice: Choice, mine: Mapping[str, str]) -> dict[str, str]:
    """Return the file's column -> pattern of the rows that belong to a log."""
    keep = {}
    if choice.keep_column in choice.header and (pattern := keep_pattern(choice.keep_words)):
        keep[choice.keep_column] = pattern
    if choice.kind == STAYS and log == "replacements" and "removed_on" in mine:
        keep.setdefault(mine["removed_on"], FILLED)
    return keep
