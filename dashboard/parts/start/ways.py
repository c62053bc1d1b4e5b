"""Boxes about how a file writes its days and numbers, and which of its rows count."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html

from dashboard import words
from dashboard.actions import incoming
from dashboard.words import start as words_start

NONE = " "
"""Stands for no column: a box that can be emptied by a slip would ask the same. No column, word
or mark is called so."""
MOST_SIGNS = 80
"""Signs of the words that rows are kept by."""
Report = Mapping[str, Any]


def field(number: int, what: str) -> dict[str, str]:
    """Return the id of a box about the file of that number."""
    return {"type": "start-field", "index": f"{number} {what}"}


def nameable(file: Report) -> list[Report]:
    """Return the looks of the columns that can be chosen: filled, by a name, and by it once."""
    by_name = {look["name"]: look for look in reversed(file["columns"])
               if look["n_filled"] and look.get("is_named", True)}
    return list(by_name.values())[::-1]


def serials(number: int, asked: tuple[str, Mapping[int, str]] | None,
            choice: incoming.Choice) -> html.Div | None:
    """Return the question from where the numbers in columns of days count."""
    if asked is None:
        return None
    serial, days = asked
    data = [{"value": NONE, "label": words_start.NOT_SAID}]
    data += [{"value": str(year), "label": f"{year}: {serial} is "
              f"{words.date(dt.date.fromisoformat(day))}"} for year, day in days.items()]
    return _asked("Days stand as numbers of days", [dmc.Select(
        id=field(number, "serials"), label="They count from", data=data, allowDeselect=False,
        description=words_start.SERIALS, value=str(choice.serial_days_from or NONE),
        comboboxProps={"shadow": "none"})], "wider")


def months(number: int, asked: Sequence[tuple[str, str]], choice: incoming.Choice,
           ) -> html.Div | None:
    """Return for each name of a month that is not known the question which month it is."""
    if not asked:
        return None
    data = [{"value": NONE, "label": words_start.NOT_SAID}]
    data += [{"value": str(n), "label": calendar.month_name[n]} for n in range(1, 13)]
    return _asked("Days: names of months that are not known", [dmc.Select(
        id=field(number, f"month {name}"), label=f"“{name}” is", data=data, allowDeselect=False,
        description=f"as in {cell}" if cell else None,
        value=str(choice.months_said.get(name, NONE)), comboboxProps={"shadow": "none"})
        for name, cell in asked])


def marks(number: int, cell: str, choice: incoming.Choice) -> html.Div | None:
    """Return the question what the marks in numbers mean, where the cells fit two ways."""
    if not cell:
        return None
    sign = next(sign for sign in cell if sign in ".,")
    other = "," if sign == "." else "."
    plain, whole = cell.replace(sign, "."), f"{int(cell.replace(sign, '')):,}"
    data = [{"value": other + sign, "label": f"thousands: {cell} is {whole}"}]
    if cell.count(sign) == 1:
        data.insert(0, {"value": sign, "label": f"decimals: {cell} is {float(plain):g}"})
    said = choice.marks_said or choice.decimal + choice.thousands
    value = said if said in {item["value"] for item in data} else data[0]["value"]
    return _asked("Numbers", [dmc.Select(
        id=field(number, "marks"), label=f"The “{sign}” stands before", data=data, value=value,
        description="The cells fit both; only you can tell.", allowDeselect=False,
        comboboxProps={"shadow": "none"})], "wider")


def kept(number: int, file: Report, choice: incoming.Choice) -> html.Details:
    """Return the boxes that say which rows of a file count, closed while all of them do."""
    data = [{"value": NONE, "label": "all rows count"}]
    data += [{"value": look["name"], "label": look["name"]} for look in nameable(file)]
    known = {item["value"] for item in data}
    return html.Details([
        html.Summary("Rows of other things in this file"),
        html.P(words_start.KEPT, className="caption"),
        html.Div([
            dmc.Select(id=field(number, "keep"), label="Only rows whose column", data=data,
                       value=choice.keep_column if choice.keep_column in known else NONE,
                       allowDeselect=False, searchable=True, comboboxProps={"shadow": "none"}),
            dmc.TextInput(id=field(number, "holds"), label="holds one of the words",
                          value=choice.keep_words, placeholder="hose, bellows",
                          inputProps={"maxLength": MOST_SIGNS})], className="form"),
    ], className="fold", open=bool(choice.keep_column))


def _asked(title: str, boxes: Sequence[Any], width: str = "") -> html.Div:
    return html.Div([html.H3(title), html.Div(boxes, className=f"form {width}".strip())],
                    className="decide")
