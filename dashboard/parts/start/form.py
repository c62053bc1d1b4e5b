"""The form that says what each column of a file is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html

from dashboard import words
from dashboard.actions import incoming
from dashboard.parts.start import ways as parts_ways
from dashboard.parts.start.ways import NONE, field
from dashboard.words import start as words_start

SAMPLE_SIGNS = 24
MOST_UNUSED = 20
FORMS = {"%d/%m/%Y": "day first, as in 31/01/2026", "%m/%d/%Y": "month first, as in 01/31/2026"}
Report = Mapping[str, Any]


def form(number: int, file: Report, choice: incoming.Choice,
         faults: Sequence[Report] = ()) -> html.Div:
    """Return the boxes about one file: what a row is, its columns, what has to be decided."""
    asked = incoming.open_questions(choice, file, faults)
    kinds = [{"value": kind, "label": words_start.ROW_KINDS[kind]} for kind in incoming.KINDS]
    columns = incoming.columns_of(choice.kind)
    needed = incoming.needed_of(choice.kind)
    first = [name for name in columns if name in needed or name in choice.columns
             or name in words_start.COLUMN_WORDS]
    boxes = [_column(number, name, columns[name].meaning, file, choice, name in needed)
             for name in columns]
    by_name = dict(zip(columns, boxes, strict=True))
    return html.Div([
        html.Div(dmc.Select(
            id={"type": "start-kind", "index": f"{number} {file['file']}"}, value=choice.kind,
            data=kinds, label="One row of this file is", allowDeselect=False,
            comboboxProps={"shadow": "none"}), className="wide"),
        html.Div([by_name[name] for name in first], className="form"),
        *_lacking(choice, columns), _unused(asked["unused"]),
        html.Details([html.Summary(words.count(len(columns) - len(first), "more column",
                                               "more columns") + " it may have"),
                      html.Div([by_name[name] for name in columns if name not in first],
                               className="form")], className="fold"),
        _dates(number, asked["dates"], choice),
        parts_ways.serials(number, asked["serial"], choice),
        parts_ways.months(number, asked["months"], choice),
        parts_ways.marks(number, asked["marks"], choice), *_words(number, asked["words"], choice),
        _units(number, asked["units"]),
        _currency(number, choice, asked["reporting"]) if asked["has_money"] else None,
        parts_ways.kept(number, file, choice),
    ], className="mapping")


def _lacking(choice: incoming.Choice, columns: Mapping[str, Any]) -> list[html.P]:
    """Return what a ranking would lack, where a column that is not needed is not there."""
    return [html.P([html.B(title), text], className="caution")
            for name, (title, text) in words_start.LACKING.items()
            if name in columns and name not in choice.columns]


def _unused(names: Sequence[str]) -> html.P | None:
    """Return the columns of the file that nothing was found for."""
    if not names:
        return None
    shown = ", ".join(f"“{name}”" for name in names[:MOST_UNUSED])
    more = f" and {len(names) - MOST_UNUSED:,} more" if len(names) > MOST_UNUSED else ""
    return html.P(f"Columns of your file that are not used: {shown}{more}.", className="caption")


def _column(number: int, name: str, meaning: str, file: Report, choice: incoming.Choice,
            is_needed: bool) -> dmc.Select:
    """Return the box that asks which column of the file fills one of ours."""
    standing = incoming.STANDING.get(name)
    none = (f"not in this file: {standing.replace('_', ' ')}" if standing and name in
            words_start.COLUMN_WORDS else "not in this file")
    data = [{"value": NONE, "label": none}]
    data += [{"value": look["name"], "label": _shown(look)}
             for look in parts_ways.nameable(file)]
    label = words_start.column_label(name) + (" (needed)" if is_needed else "")
    known = {item["value"] for item in data}
    value = choice.columns.get(name, NONE)
    return dmc.Select(
        id=field(number, f"column {name}"), label=label, description=meaning, data=data,
        value=value if value in known else NONE, allowDeselect=False, searchable=True,
        comboboxProps={"shadow": "none"})


def _shown(look: Report) -> str:
    sample = look["examples"][0] if look["examples"] else ""
    cut = sample if len(sample) <= SAMPLE_SIGNS else sample[:SAMPLE_SIGNS] + "…"
    return f"{look['name']} · {cut}" if cut else look["name"]


def _dates(number: int, forms: list[str], choice: incoming.Choice) -> Any:
    """Return the question whether the day or the month stands first."""
    if not forms:
        return None
    taken = next((item for item in choice.date_formats if item in forms), forms[0])
    return html.Div(dmc.Select(
        id=field(number, "dates"), label="Days are written with the", allowDeselect=False,
        description="The cells fit both; only you can tell.",
        data=[{"value": item, "label": FORMS.get(item, item)} for item in forms], value=taken,
        comboboxProps={"shadow": "none"}), className="form decide")


def _words(number: int, unknown: Mapping[str, Any], choice: incoming.Choice) -> list[Any]:
    """Return for each word that is not known the question what it means."""
    columns = incoming.columns_of(choice.kind)
    out = []
    for name, found in unknown.items():
        data = [{"value": NONE, "label": words_start.NOT_SAID}]
        data += [{"value": word, "label": _word(name, word)} for word in columns[name].words]
        given = choice.words.get(name, {})
        boxes = [dmc.Select(
            id=field(number, f"word {name} {word}"), label=f"“{word}” means", data=data,
            description=words.count(n, "row"), value=given.get(word) or guess or NONE,
            allowDeselect=False, comboboxProps={"shadow": "none"}) for word, n, guess in found]
        title = f"{words_start.column_label(name)}: words that are not known"
        out.append(html.Div([html.H3(title), html.Div(boxes, className="form")],
                            className="decide"))
    return out


def _word(column: str, word: str) -> str:
    return words.reason(word) if column == "reason" else word.replace("_", " ")


def _units(number: int, choices: Mapping[str, tuple[str, list[str]]]) -> html.Div | None:
    """Return for each mapped column with a unit the question in which it is written."""
    boxes = [dmc.Select(
        id=field(number, f"unit {name}"), label=f"{words_start.column_label(name)} is in",
        data=known, value=taken, allowDeselect=False, comboboxProps={"shadow": "none"})
        for name, (taken, known) in choices.items()]
    return html.Div(boxes, className="form decide") if boxes else None


def _currency(number: int, choice: incoming.Choice, reporting: str) -> html.Div:
    """Return the question in which currency amounts are, and its rate where others differ."""
    boxes = [dmc.TextInput(
        id=field(number, "currency"), label="Amounts are in", value=choice.currency,
        description="three letters, such as EUR, GBP or USD", inputProps={"maxLength": 3})]
    if reporting:
        boxes.append(dmc.TextInput(
            id=field(number, "rate"), label=f"One {choice.currency} in {reporting}",
            value=choice.rate, description=f"other files are in {reporting}; until this is said,"
            " the amounts of this file are left aside", inputProps={"maxLength": 16}))
    return html.Div(boxes, className="form decide")


def chosen(number: int, before: incoming.Choice, fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return what stands in the boxes about a file as the fields of a choice.

    Parameters
    ----------
    number : int
        Of the file on the page.
    before : Choice
        What the boxes were drawn from; keeps what has no box.
    fields : mapping
        Index of each box to what stands in it.
    """
    mine = {index.split(" ", 1)[1]: str(value) for index, value in fields.items()
            if index.split(" ", 1)[0] == str(number) and value not in (None, "", NONE)}
    out: dict[str, Any] = before.model_dump() | {"columns": {}, "words": {}, "units": {},
                                                "currency": mine.get("currency", "").upper(),
                                                "rate": mine.get("rate", ""), "months_said": {},
                                                "keep_column": mine.get("keep", ""),
                                                "keep_words": mine.get("holds", "")}
    for asked, key in (("serials", "serial_days_from"), ("marks", "marks_said")):
        if f"{number} {asked}" in fields:  # what is not asked stays as it was said
            out[key] = mine.get(asked) or incoming.Choice.model_fields[key].default
    if out["serial_days_from"]:
        out["serial_days_from"] = int(out["serial_days_from"])
    for index, value in mine.items():
        what, _, rest = index.partition(" ")
        if what == "column":
            out["columns"][rest] = value
        elif what == "unit":
            out["units"][rest] = value
        elif what == "word":
            name, _, word = rest.partition(" ")
            out["words"].setdefault(name, {})[word] = value
        elif what == "dates":
            out["date_formats"] = [value]
        elif what == "month":
            out["months_said"][rest] = int(value)
    out["columns"] = _once(out["columns"], before.columns)
    return out


def _once(columns: Mapping[str, str], before: Mapping[str, str]) -> dict[str, str]:
    """Take a column of the file away from where it stood, once it was chosen for something else.

    Examples
    --------
    >>> _once({"equipment": "Asset", "service_point": "Asset"}, {"equipment": "Asset"})
    {'service_point': 'Asset'}
    """
    new = {theirs for ours, theirs in columns.items() if before.get(ours) != theirs}
    return {ours: theirs for ours, theirs in columns.items()
            if theirs not in new or before.get(ours) != theirs}
