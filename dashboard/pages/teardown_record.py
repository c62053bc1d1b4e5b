"""The record of one hose being taken apart: a screen for each question, saved one by one."""

from __future__ import annotations

import datetime as dt
from typing import Any
from urllib.parse import unquote

import dash
from dash import ALL, ClientsideFunction, Input, Output, State, callback, dcc, html

from dashboard import actions, parts, words
from dashboard.parts import entries as parts_entries
from dashboard.record import screens as parts_record
from dashboard.record import side as parts_record_side
from dashboard.record.press import pressed
from dashboard.record.view import stay_at, view_of

dash.register_page(
    __name__, path_template="/teardown/<hose>", name="Teardown record",
    title=lambda hose="", **_: f"Record of {unquote(hose)} · Braidlife",
)  # fmt: skip


def layout(hose: str = "", place: str | None = None, removed: str | None = None,
           **_: Any) -> html.Div:
    """Return the record of the hose that the address names."""
    name = unquote(hose)
    stay = stay_at(name, place, removed)
    if stay is None:
        return parts.problem_page("There is no such hose.", "It may have another tag, or the "
                                  "address is incomplete.", ("/teardown", "all teardowns"))
    if stay["removed_on"] is None:
        return parts.problem_page(
            f"“{name[:80]}” is still in service.", "A hose is taken apart once its removal is on "
            "record. Enter or load the removal first.", ("/teardown", "all teardowns"))
    view = view_of(stay)
    why = actions.why_not()
    at = view.resumed()
    known = {"hose": stay["hose_id"], "place": stay["service_point"],
             "removed": stay["removed_on"].isoformat(), "at": at, "who": view.record.examiner,
             "day": view.record.examined_on}
    shown = parts_record.screen(view, at, dt.date.today().isoformat()) if why is None else (
        parts_entries.closed(why))
    return html.Div([
        html.P([parts.link("All teardowns", "/teardown"), " · ",
                parts.place_link(stay["service_point"]), " ", *parts.hazards(stay["hazards"])],
               className="lead"),
        parts.headline(*parts_record_side.sentence(view)),
        parts.context_line(
            f"out {words.date(stay['removed_on'])}, {words.reason(stay['removal_reason'] or '')}",
            f"construction {stay['construction']}", stay["application_class"]),
        dcc.Store(id="record-known", data=known), dcc.Store(id="record-sent"),
        dcc.Store(id="entry-token", data=actions.token()),
        html.Div(id="record-said", role="status", className="said"),
        html.Div([
            html.Div(shown, id="record-screen", **{"data-sends-to": "record-sent"}),
            html.Div(parts_record_side.side(view, actions.suggest(view.found)), id="record-side",
                     **{"data-sends-to": "record-sent"}),
        ], className="columns record"),
        parts_entries.edition_line(),
    ], className="page")  # fmt: skip


dash.clientside_callback(
    ClientsideFunction("braidlife_entry", "shrink"),
    Output("record-sent", "data"),
    Input({"type": "record-upload", "index": ALL}, "contents"),
    State({"type": "record-upload", "index": ALL}, "id"),
    prevent_initial_call=True,
)


@callback(
    Output("record-screen", "children"),
    Output("record-side", "children"),
    Output("record-known", "data"),
    Output("record-said", "children"),
    Input("record-sent", "data"),
    State("record-known", "data"),
    State("entry-token", "data"),
    State({"type": "record-field", "index": ALL}, "value"),
    State({"type": "record-field", "index": ALL}, "id"),
    prevent_initial_call=True,
)
def press(sent: Any, known: Any, token: Any, values: list[Any], ids: list[Any]) -> Any:
    """Do what a button of the record says, and show what comes next."""
    fields = {str(item["index"]): value for item, value in zip(ids, values, strict=True)}
    return pressed(sent, known, token, fields)
