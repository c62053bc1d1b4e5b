"""Entering on the page of a place: an inspection, and a row that is wrong."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, dcc, html

from dashboard import actions, parts, units
from dashboard.actions import swap as actions_swap
from dashboard.parts import entries as parts_entries
from dashboard.queries import record as asked
from dashboard.questions import read_inside
from dashboard.record.screens import send

VELOCITY = "vibration_mm_s_rms"
MOST_ROWS = 120
"""Latest rows of a place that can be chosen to be corrected."""
CAUTION = (
    "A clean look is no proof:",
    "cracks hide under the braid. Isolate and lock out before hands come near; never put pressure "
    "on a hose with found damage. Local codes and licensed practice come first.",
)
SAVED = {"inspection": "The inspection is saved. Once the next edition is made, it can be put "
                       "right under “A row is wrong”.",
         "correct": "The right values are saved.", "takeback": "The row is taken back.",
         "swap": "The swap is saved: the hoses of both places are moved, each with its age."}
SWAP = ("For hoses that changed over although no log says so. Each comes out as relocated and goes "
        "in at the other place with the age it had; the rows can be put right like any other.")
NO_ROW = "This row is not on record now. Reload the page."


def field(name: str) -> dict[str, str]:
    """Return the id of a box of the two forms."""
    return {"type": "enter-field", "index": name}


def block(place: str) -> html.Section:
    """Return the two forms of a place, folded away, or why there are none."""
    why = actions.why_not()
    title = "Enter something about this place"
    if why is not None:
        return parts.section(title, "", parts_entries.closed(why))
    return parts.section(
        title, "Kept as a row of the log, with who and when; the next edition counts it.",
        dcc.Store(id="enter-place", data=place), dcc.Store(id="enter-sent"),
        dcc.Store(id="entry-token", data=actions.token()),
        html.Div([
            html.Div(id="enter-said", className="said", role="status"),
            _box("who", "Your name", **parts_entries.name("")),
            html.Details([html.Summary("An inspection"), _inspection(),
                          parts.caution(*CAUTION)], className="fold"),
            html.Details([html.Summary("A row is wrong"), _rows(place),
                          html.Div(id="enter-row")], className="fold"),
            html.Details([html.Summary("Its hose changed places with another"), _swap()],
                         className="fold"),
        ], className="screen", **{"data-sends-to": "enter-sent", "data-turn": place}),
        parts_entries.edition_line(),
    )  # fmt: skip


def _box(name: str, label: str, value: str = "", **more: Any) -> dmc.TextInput:
    return dmc.TextInput(id=field(name), label=label, value=value, **more)


def _choice(name: str, label: str, values: tuple[str, ...], value: str | None) -> dmc.Select:
    data = [{"value": item, "label": item.replace("_", " ")} for item in values]
    return dmc.Select(id=field(name), label=label, data=data, value=value, allowDeselect=False,
                      comboboxProps={"shadow": "none"})


def _inspection() -> html.Div:
    return html.Div([
        _box("inspected_on", "Day of the inspection", dt.date.today().isoformat()),
        _choice("condition", "Condition found", actions.choices("inspections", "condition"), None),
        _box(units.column(VELOCITY, units.system())[0],
             f"Vibration, {units.name('mm/s rms')}, if measured"),
        _box("vibration_hz", "Its main frequency, Hz"),
        _box("natural_frequency_hz", "Natural frequency by a bump test, Hz"),
        dmc.Textarea(id=field("note"), label="Note", value="", autosize=True, minRows=2),
        send("Save the inspection", "inspection", kind="main"),
    ], className="form")  # fmt: skip


def _swap() -> html.Div:
    return html.Div([
        html.P(SWAP, className="caption wide"),
        _box("swap_with", "The other place, as the register names it"),
        _box("swapped_on", "Day, like 2026-02-28"),
        send("Save the swap", "swap", kind="main", confirm="Press again to save it"),
    ], className="form")  # fmt: skip


def _rows(place: str) -> html.Div:
    rows = asked.correctable(place, MOST_ROWS)
    data = [{"value": json.dumps([row["log"], row["source_file"], row["source_row"]]),
             "label": f"{row['log']}, {row['happened_on'] or 'no day'}"
                      f"{', refused' if row['fate'] == 'refused' else ''}"
                      f" ({row['source_file']} row {row['source_row']})"} for row in rows]
    return html.Div(dmc.Select(
        id="enter-which", label="Which row", data=data, placeholder="Choose one", searchable=True,
        comboboxProps={"shadow": "none"}), className="wide")


def _chosen(which: object, place: str) -> tuple[str, dict[str, str]] | None:
    """Return log and typed cells of the row that was chosen."""
    try:
        log, file, number = read_inside(which)
        row = asked.row_as_loaded(place, str(log), str(file), int(number))
    except (ValueError, TypeError):
        return None
    if row is None or log not in actions.LOGS:
        return None
    return str(log), actions.typed_row(str(log), str(file), json.loads(row["cells"]))


def choose(which: object, place: object) -> Any:
    """Return the cells of a row to put right."""
    if not which:
        return []
    try:
        found = _chosen(which, str(place))
    except actions.NOT_KEPT as exc:
        return html.P(str(exc))
    if found is None:
        return html.P(NO_ROW)
    log, cells = found
    boxes = [_cell(log, name, cells.get(name, "")) for name in actions.columns(log)]
    return html.Div([
        html.P("As the log is kept: days like 2026-02-28, its units (bar, mm, mm/s, °C) and words. "
               "What stood there before is kept.", className="caption wide"), *boxes,
        html.Div([send("Save the right values", "correct", kind="main"),
                  send("Take the row back", "takeback",
                       confirm="Press again to take it back")], className="wide back-next"),
    ], className="form")  # fmt: skip


def _cell(log: str, name: str, value: str) -> Any:
    label, choices = name.replace("_", " "), actions.choices(log, name)
    if choices:
        return _choice(f"cell {name}", label, choices, value or None)
    return _box(f"cell {name}", label, value)


def press(sent: Any, place: object, token: object, which: object, values: list[Any],
          ids: list[Any]) -> str:
    """Save an inspection, a correction or a swap."""
    if not isinstance(sent, dict) or sent.get("do") not in SAVED:
        return ""
    fields = {str(item["index"]): str(value or "").strip()
              for item, value in zip(ids, values, strict=True)}
    try:
        taken = _take(sent, fields, which, str(place), token)
        if taken is None:
            return NO_ROW
        if not taken.is_kept:
            return f"Not saved: {taken.words}"
        actions.make_edition(token)
    except actions.NOT_KEPT as exc:
        return str(exc)
    parts_entries.watch()
    return SAVED[str(sent.get("do"))] if taken.is_new else "Saved before; it counts once."


def _take(sent: Mapping[str, Any], fields: Mapping[str, str], which: object, place: str,
          token: object) -> actions.Taken | None:
    """Keep what was sent; None where the row that it is about is gone."""
    entry_id, who = str(sent.get("id")), fields.get("who", "")
    if sent.get("do") == "swap":
        return actions_swap.swap(token, entry_id, who, place, fields.get("swap_with", ""),
                                 fields.get("swapped_on", ""))
    made = (_inspected(fields, place) if sent.get("do") == "inspection"
            else _corrected(sent, fields, which, place))
    return None if made is None else actions.save(token, entry_id, made[0], who, made[1])


def _inspected(fields: Mapping[str, str], place: str) -> tuple[str, list[dict[str, str]]]:
    names = ("inspected_on", "condition", "vibration_mm_s_rms", "vibration_hz",
             "natural_frequency_hz", "note")
    row = {"service_point": place} | {name: fields.get(name, "") for name in names}
    # The box names its unit, so that a choice of units made elsewhere meanwhile changes nothing.
    shown, how = units.column(VELOCITY, "us")
    if how and fields.get(shown):
        row[VELOCITY] = how.typed(fields[shown])
    return "inspections", [row]


def _corrected(sent: Mapping[str, Any], fields: Mapping[str, str], which: object, place: str,
               ) -> tuple[str, list[dict[str, str]]] | None:
    found = _chosen(which, place)
    if found is None:
        return None
    log, before = found
    after = {name: fields.get(f"cell {name}", "") for name in actions.columns(log)}
    if before.get("row_id"):
        after["row_id"] = before["row_id"]
    given = {name: cell for name, cell in after.items() if cell}
    return log, actions.correcting(log, before, None if sent.get("do") == "takeback" else given)


def register(app: dash.Dash) -> None:
    """Register the two forms with an app."""
    app.callback(
        Output("enter-row", "children"),
        Input("enter-which", "value"),
        State("enter-place", "data"),
        prevent_initial_call=True,
    )(choose)
    app.callback(
        Output("enter-said", "children"),
        Input("enter-sent", "data"),
        State("enter-place", "data"),
        State("entry-token", "data"),
        State("enter-which", "value"),
        State({"type": "enter-field", "index": ALL}, "value"),
        State({"type": "enter-field", "index": ALL}, "id"),
        prevent_initial_call=True,
    )(press)
