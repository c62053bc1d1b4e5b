"""Propose a mapping for a file that needs one: a text to be read and corrected by a person."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Sequence

from etl.load.cell_text import EPOCHS
from etl.load.columns import LOGS, Column, Log
from etl.load.extract import folded
from etl.load.look import Look, days_among, is_ambiguous
from etl.load.mapping import ISO, TypingOptions
from etl.load.names import likeness, nearest_source
from etl.load.quoting import BLANK_SIGNS, quoted
from etl.load.recognise import plain_names
from etl.load.seeds import rows, vocabulary
from etl.load.typed_days import SERIAL
from etl.load.words import SEVERAL, bare_word, meanings, nearest_word

MOST_WORDS = 20
UNSURE = "   # by its name or its cells alone: correct it if that is not what it holds"

FITTING = {
    "date": ("days", "empty"), "number": ("numbers", "yes or no", "empty"),
    "integer": ("numbers", "yes or no", "empty"), "money": ("numbers", "yes or no", "empty"),
    "yes_no": ("yes or no", "words", "empty"),
}
"""Looks that a kind of column may have; the other kinds may look like anything."""
OF_HEADINGS = {
    "f": "degf", "°f": "degf", "ºf": "degf", "deg.f": "degf", "fahrenheit": "degf",
    "c": "degc", "°c": "degc", "ºc": "degc", "celsius": "degc", "kelvin": "k",
    "psig": "psi", "barg": "bar", "inch": "in", "inches": "in", "ips": "in/s", "feet": "ft",
    "rpm": "1/min", "cpm": "1/min", "hr": "h", "hrs": "h", "hours": "h", "mins": "min",
    "minutes": "min", "days": "d", "weeks": "week", "months": "month", "years": "year",
    "lbs": "lb",
}
"""How headings write a unit of `units.csv` otherwise (common practice, no source); pressures of
service are above that of the air, so that psig is psi. A unit that is overlooked is a wrong
figure: 400 degrees Fahrenheit are 204 degrees Celsius."""


def guess_log(file: str, looks: Sequence[Look]) -> Log | None:
    """Return the log that a file with these columns most likely is, None where none comes near.

    Parameters
    ----------
    file : str
        Name of the file; a log's name in it tells between logs that fit alike.
    looks : sequence of Look
        Columns of the file.

    Returns
    -------
    Log or None
        At least two columns must fit, half of the required ones among them.
    """
    best, best_score = None, (0.0, 0.0)
    for log in LOGS.values():
        filled = fill(log, looks)
        taken = set(filled)
        n_required = len(taken & set(log.required))
        score = n_required / len(log.required) + 0.1 * (len(taken) - n_required)
        score += 0.5 * (log.name in re.sub(r"[\s-]+", "_", file.casefold()))
        # Logs that fit in as many columns are told apart by how well the names fit.
        ranked = round(score, 6), sum(likeness(name, ours) for ours, name in filled.items())
        if len(taken) > 1 and 2 * n_required >= len(log.required) and ranked > best_score:
            best, best_score = log, ranked
    return best


def fill(log: Log, looks: Sequence[Look]) -> dict[str, str]:
    """Return our column -> the file's column that most likely fills it.

    Parameters
    ----------
    log : Log
    looks : sequence of Look

    Returns
    -------
    dict of str to str
        Columns under our own name first, then the most alike whose cells are of a fitting kind.
    """
    filled: dict[str, str] = {}
    free = {look.name: look for look in looks if look.is_named}
    for column in log.names:
        plain = {folded(name) for name in plain_names(column)}
        same = next((name for name in free if folded(name) in plain), None)
        if same is not None:
            filled[column] = same
            del free[same]
    pairs = sorted(
        (-likeness(name, column.name), number, column.name, name)
        for number, column in enumerate(log.columns) if column.name not in filled
        for name, look in free.items()
        if look.looks_like in FITTING.get(column.kind, (look.looks_like,))
        and (column.kind == "money" or not look.currency)
    )
    for score, _, ours, name in pairs:
        if score < 0 and ours not in filled and name not in filled.values():
            filled[ours] = name
    return {name: filled[name] for name in log.names if name in filled}


def fill_all(log: Log, looks: Sequence[Look]) -> dict[str, str]:
    """Return what `fill` does, and what is left for required columns: by name, whatever the cells.

    A column of days in which some cells are none looks like text; its rows are then told one by
    one. A required day that no name speaks for gets the only column of days left.

    Parameters
    ----------
    log : Log
        As chosen: names alone tell the logs apart, since nearly all of them have a day.
    looks : sequence of Look
    """
    filled = fill(log, looks)
    free = [look for look in looks if look.name not in filled.values() and look.is_named]
    missing = [name for name in log.required if name not in filled]
    for ours in missing:
        near = nearest_source(ours, [look.name for look in free if look.looks_like != "empty"])
        if near is not None:
            filled[ours] = near
            free = [look for look in free if look.name != near]
    missing = [name for name in missing
               if log.column(name).kind == "date" and name not in filled]
    days = [look.name for look in free if look.looks_like == "days"]
    if len(missing) == len(days) == 1:
        filled[missing[0]] = days[0]
    return {name: filled[name] for name in log.names if name in filled}


def propose_mapping(
    file: str, log: Log, looks: Sequence[Look], delimiter: str | None = None,
    header_row: int | None = None, sheet: str | None = None,
) -> str:
    """Write a ``[[file]]`` entry for a file.

    Parameters
    ----------
    file : str
        Name of the file.
    log : Log
        The log that it feeds.
    looks : sequence of Look
        Its columns.
    delimiter, header_row, sheet : optional
        Written down where they are not what is expected.

    Returns
    -------
    str
        TOML. What a person has to decide stands in it as a comment.
    """
    by_name = {look.name: look for look in looks}
    named, filled = fill(log, looks), fill_all(log, looks)
    lines = ["[[file]]", f"match = {quoted(file)}", f'log = "{log.name}"']
    if delimiter is not None:
        lines.append(f"delimiter = {quoted(delimiter)}")
    if header_row is not None:
        lines.append(f"header_row = {header_row}")
    if sheet is not None:
        lines.append(f"sheet = {quoted(sheet)}")
    lines += _forms(log, filled, by_name)
    lines += _currency(log, filled, by_name)
    unused = [look.name for look in looks if look.name not in filled.values() and look.is_named]
    if unused:
        lines.append(f"ignore = [{', '.join(map(quoted, unused))}]")
    lines.append("[file.columns]")
    lines += [f"{ours} = {quoted(name)}" + ("" if ours in named else UNSURE)
              for ours, name in filled.items()]
    lines += [f'# {name} = "..."   # required: name the column that holds it{_constant(log, name)}'
              for name in log.required if name not in filled]
    months = dict(pair for ours, name in filled.items() if log.column(ours).kind == "date"
                  for pair in by_name[name].months)
    if months:
        lines.append("[file.months]   # names of months in the days")
        lines += [f"{quoted(name)} = {number}" for name, number in sorted(
            months.items(), key=lambda pair: (pair[1], pair[0]))]
    for ours, name in filled.items():
        lines += _words(log.column(ours), by_name[name])
    units = [line for ours, name in filled.items() for line in _unit(log.column(ours), name)]
    lines += ["[file.units]", *units] if units else []
    return "\n".join(lines) + "\n"


def _constant(log: Log, name: str) -> str:
    """Say how a word is given that is the same in every row and stands in no column."""
    words = log.column(name).words
    return f", or below [file.constants] its word for all rows: {', '.join(words)}" if words else ""


def _forms(log: Log, filled: dict[str, str], looks: dict[str, Look]) -> list[str]:
    """Write date formats and decimal mark as the mapped columns show them."""
    formats: dict[str, None] = {}
    lines = []
    for ours, name in filled.items():
        if log.column(ours).kind != "date":
            continue
        serials = [cell for cell in looks[name].examples if re.fullmatch(SERIAL, cell, re.ASCII)]
        if serials:
            lines.append(_calendar(name, serials[0]))
        shown, found = days_among(looks[name])
        if is_ambiguous(found):
            choice = " or ".join(f"date_formats = [{quoted(item)}]" for item in found)
            lines.append(f"# {quoted(name)}: day or month first?"
                         f" {quoted(shown)} fits both. Keep one: {choice}")
        else:
            formats.update(dict.fromkeys(found))
    formats.pop(ISO, None)
    if formats:
        lines.append(f"date_formats = [{', '.join(map(quoted, formats))}]")
    marks = {(looks[name].decimal, looks[name].thousands) for ours, name in filled.items()
             if log.column(ours).kind in ("number", "integer", "money")}
    declared = sorted((a, b or "") for a, b in marks if a and (a != "." or b))
    if declared:
        decimal = declared[0][0]
        thousands = max(mark for a, mark in declared if a == decimal)
        lines.append(f"decimal = {quoted(decimal)}")
        lines += [f"thousands = {quoted(thousands)}"] if thousands else []
    return lines


def _calendar(name: str, serial: str) -> str:
    """Write which days a plain number can mean."""
    days = {year: day_0 + dt.timedelta(days=int(serial[:5])) for year, day_0 in EPOCHS.items()}
    choice = " or ".join(f"serial_days_from = {year} ({day})" for year, day in days.items())
    return f"# {quoted(name)}: which day is {serial}? Keep one: {choice}"


def _currency(log: Log, filled: dict[str, str], looks: dict[str, Look]) -> list[str]:
    """Write the currency of the amounts, where marks or names tell it."""
    found = Counter(looks[name].currency for ours, name in filled.items()
                    if log.column(ours).kind == "money" and looks[name].currency)
    return [f"currency = {quoted(item)}" for item, _ in found.most_common(1)]


def _words(column: Column, look: Look) -> list[str]:
    """Write a line for each word that the closed vocabulary does not know."""
    if column.kind not in ("word", "words") or not look.values:
        return []
    known = {*column.words, *vocabulary(column.name)}
    unknown: Counter[str] = Counter()
    for cell, n in look.values:
        for word in re.split(SEVERAL, cell) if column.kind == "words" else [cell]:
            if bare_word(word) and bare_word(word) not in known:
                unknown[word.strip(BLANK_SIGNS)] += n
    if not unknown:
        return []
    lines = [f"[file.words.{column.name}]   # one of: {', '.join(column.words)}"]
    for word, n in unknown.most_common(MOST_WORDS):
        near = nearest_word(column, word)
        guess = meanings(column, TypingOptions())[near] if near else "..."
        said = f"{n:,} row{'s' * (n > 1)}" + (f"; nearest known word: {near}" if near else "")
        lines.append(f"# {quoted(word)} = {quoted(guess)}   # {said}")
    return lines


def _unit(column: Column, name: str) -> list[str]:
    """Write the unit that a column's own name states, where it is not the stored one."""
    unit = stated_unit(column, name)
    return [f"{column.name} = {quoted(unit)}"] if unit not in ("", column.unit) else []


def stated_unit(column: Column, name: str) -> str:
    """Return the unit of `units.csv` that the name of a file's column states, empty without one.

    Examples
    --------
    >>> stated_unit(LOGS["service_points"].column("temperature_c"), "Temp. (\u00b0F)")
    'degF'
    """
    known = {row["unit"].lower(): row["unit"] for row in rows("units")
             if row["stored_unit"] == column.unit}
    words = [word.lower() for word in re.split(r"[\s()\[\],_]+", name)]
    stated = [known[said] for said in (OF_HEADINGS.get(word, word) for word in words)
              if said in known]
    return stated[-1] if stated else ""
