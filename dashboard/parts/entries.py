"""What is the same wherever something is entered: who may, how far the new edition is."""

from __future__ import annotations

from typing import Any

import dash
from dash import Input, Output, State, dcc, html

from dashboard import actions, parts, words

EVERY_MS = 1500
"""Between two looks at the job; a build takes seconds to minutes."""


def edition_line() -> html.Div:
    """Return the line that tells how far the new edition is, and looks again while it is made."""
    is_working = actions.progress().state in actions.WORKING
    return html.Div([
        html.Div(told(), id="entry-progress", role="status"),
        dcc.Interval(id="entry-tick", interval=EVERY_MS, disabled=not is_working),
    ], className="entry-line")  # fmt: skip


def told() -> list[Any]:
    """Return how far the job is, in words; nothing where nothing waits."""
    now = actions.progress()
    if now.state in actions.WORKING:
        done = f" ({now.seconds:,.0f} s so far)" if now.seconds >= 1 else ""
        return [html.P([html.B("A new edition is being made: "), f"{now.step or 'starting'}{done}. "
                        "Everybody reads the present one until it is there."])]
    n = actions.n_waiting()
    if now.state == "failed":
        return [html.P([html.B("No new edition could be made: "), now.step]), _start(n)]
    if n:
        return [html.P(f"{words.count(n, 'entered row')} not in an edition yet."), _start(n)]
    if now.state == "done":
        return [html.P(["Everything entered is in edition ", html.B(f"{now.edition:,}"), "."])]
    return []


def _start(n: int) -> html.Button | None:
    return html.Button("Make a new edition now", type="button", className="tall",
                       id={"type": "entry-build", "index": "now"}) if n else None


def watch() -> None:
    """Let the page of this callback look at the job that it has just started."""
    dash.set_props("entry-progress", {"children": told()})
    dash.set_props("entry-tick", {"disabled": False})


def closed(why: str) -> html.P:
    """Return why nothing can be entered."""
    return parts.empty(why)


def name(given: str) -> dict[str, Any]:
    """Return what the box for a name holds: the account's own, or the one given here before."""
    own = actions.name_of("")
    return {"value": own, "readOnly": True} if own else {
        "value": given, "persistence": True, "persistence_type": "local"}


def name_kept() -> str:
    """Return what becomes of a name."""
    return ("Kept under your account." if actions.name_of("") else
            "There are no accounts yet: the name is kept as you give it.")


def register(app: dash.Dash) -> None:
    """Register with an app what looks at the job and what starts it."""

    @app.callback(
        Output("entry-progress", "children"),
        Output("entry-tick", "disabled"),
        Input("entry-tick", "n_intervals"),
        prevent_initial_call=True,
    )
    def look_again(_: int | None) -> Any:
        return told(), actions.progress().state not in actions.WORKING

    @app.callback(
        Output("entry-tick", "disabled", allow_duplicate=True),
        Input({"type": "entry-build", "index": dash.ALL}, "n_clicks"),
        State("entry-token", "data"),
        prevent_initial_call=True,
    )
    def build_now(clicks: list[int | None], token: Any) -> Any:
        if not any(clicks):
            return dash.no_update
        try:
            actions.make_edition(token)
        except actions.NOT_KEPT as exc:
            dash.set_props("entry-progress", {"children": html.P(str(exc))})
            return dash.no_update
        return False
