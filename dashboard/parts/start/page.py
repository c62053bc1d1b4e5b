"""The page for one's own files, and what its buttons do; an empty store begins with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash
from dash import ALL, ClientsideFunction, Input, Output, State, dcc, html

from dashboard import actions, parts, words
from dashboard.actions import incoming
from dashboard.parts import entries as parts_entries
from dashboard.parts.start import form as parts_start_map
from dashboard.parts.start import waiting as parts_start

EVERY_MS = 1000
NOTHING: dict[str, Any] = {"files": [], "refused": [], "n_faults": 0, "note": ""}
ENDINGS = ".csv,.tsv,.xlsx,.xls,.parquet"


def page() -> html.Div:
    """Return the page."""
    why = actions.why_not("keeper")
    room: list[Any] = [
        parts.section(
            "2. Your files", "CSV, TSV, XLSX, XLS or Parquet, up to "
            f"{actions.LARGEST / 1e6:.0f} MB each. Nothing is loaded before you say so.",
            dcc.Upload(html.Div("Choose files, or drop them here", className="drop"),
                       id="start-upload", accept=ENDINGS, multiple=True)),
        html.Div([html.Div(id="start-progress", role="status", children=parts_start.progress()),
                  dcc.Loading(html.Div(id="start-work", style={"minHeight": "60px"}),
                              target_components={"start-work": "children"})],
                 className="start", **{"data-sends-to": "start-sent", "data-turn": "start"}),
    ] if why is None else [parts_entries.closed(why)]  # fmt: skip
    return html.Div([
        parts.headline("From your own spreadsheet to a first ranking: ",
                       parts.strong("drop it here"), ", say what its columns are, load."),
        parts.context_line("about ten minutes for one file",
                           "what is refused is kept with its reason",
                           None if incoming.has_edition() else "this store is still empty"),
        dcc.Store(id="entry-token", data=actions.token("keeper")), dcc.Store(id="start-sent"),
        dcc.Store(id="start-done"), parts_start.needs(), *room,
        dcc.Interval(id="start-tick", interval=EVERY_MS, disabled=not parts_start.is_working()),
        parts.caution(*words.CAUTION_FORECAST),
    ], className="page")  # fmt: skip


def act(sent: Any, kinds: list[Any], token: Any, kind_ids: list[Any], values: list[Any],
        ids: list[Any]) -> Any:
    """Do what a button or a choice asks, and return the files as they now stand."""
    fields = {str(item["index"]): value for item, value in zip(ids, values, strict=True)}
    problem = ""
    try:
        if isinstance(dash.ctx.triggered_id, dict):
            _new_kind(token, kinds, kind_ids)
        elif isinstance(sent, dict):
            problem = _do(sent, token, fields)
    except actions.NOT_KEPT as exc:
        problem = str(exc)
    try:
        report = incoming.look_over(token) if incoming.waiting() else NOTHING
    except actions.NOT_KEPT as exc:
        return parts_start.work(NOTHING, str(exc))
    return parts_start.work(report, problem)


def _new_kind(token: Any, kinds: list[Any], ids: list[Any]) -> None:
    """Take what a row is said to be now; the columns are guessed anew."""
    chosen = incoming.chosen()
    for kind, item in zip(kinds, ids, strict=True):
        name = str(item["index"]).split(" ", 1)[1]
        before = chosen.get(name)
        if before is not None and kind != before.kind:
            incoming.choose(token, name, before.model_dump() | {
                "kind": str(kind), "columns": {}, "words": {}, "units": {}})


def _do(sent: Mapping[str, Any], token: Any, fields: Mapping[str, Any]) -> str:
    """Do what one button stands for; returns what is to be said about it."""
    do, name = sent.get("do"), str(sent.get("about") or "")
    if do == "problem":
        return str(sent.get("value") or "The file could not be sent.")
    if do == "choose":
        before, number = incoming.chosen().get(name), str(sent.get("value"))
        if before is not None and number.isdecimal():
            incoming.choose(token, name, parts_start_map.chosen(int(number), before, fields))
    elif do == "remove":
        incoming.remove(token, name)
    elif do in LARGE:
        LARGE[do](token)
        dash.set_props("start-progress", {"children": parts_start.progress()})
        dash.set_props("start-tick", {"disabled": False})
    elif do == "aside":
        incoming.set_demo_aside(token)
        dash.set_props("start-done", {"data": "/start"})
    return ""


LARGE = {"load": incoming.load, "demo": incoming.load_demo}
"""Buttons that start the job."""


def watch(_: int | None) -> tuple[list[Any], bool, Any]:
    """Return how far the job is, and where to go when it is done."""
    if parts_start.is_working():
        return parts_start.progress(), False, dash.no_update
    is_done = actions.progress().state == "done"
    return parts_start.progress(), True, "/" if is_done else dash.no_update


def register(app: dash.Dash) -> None:
    """Register what the page does with an app."""
    app.clientside_callback(
        ClientsideFunction("braidlife_entry", "keep"),
        Output("start-sent", "data"),
        Input("start-upload", "contents"),
        State("start-upload", "filename"),
        State("entry-token", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("braidlife_entry", "land"),
        Output("start-done", "data", allow_duplicate=True),
        Input("start-done", "data"),
        prevent_initial_call=True,
    )
    app.callback(
        Output("start-work", "children"),
        Input("start-sent", "data"),
        Input({"type": "start-kind", "index": ALL}, "value"),
        State("entry-token", "data"),
        State({"type": "start-kind", "index": ALL}, "id"),
        State({"type": "start-field", "index": ALL}, "value"),
        State({"type": "start-field", "index": ALL}, "id"),
    )(act)
    app.callback(
        Output("start-progress", "children"),
        Output("start-tick", "disabled"),
        Output("start-done", "data"),
        Input("start-tick", "n_intervals"),
        prevent_initial_call=True,
    )(watch)
