"""Check a file before it is loaded: what its columns are, what would be refused, and why."""

from __future__ import annotations

import logging
from typing import Any

import dash
from dash import ClientsideFunction, Input, Output, State, callback, dcc, html

from dashboard import actions, parts
from dashboard.parts import entries as parts_entries
from dashboard.parts.start import check as parts_check

log = logging.getLogger("braidlife.pages")
dash.register_page(
    __name__, path="/data-health/check-file", name="Check a file", title="Check a file · Braidlife")


def layout(**_: Any) -> html.Div:
    """Return the page with room for one file."""
    why = actions.why_not()
    room: list[Any] = [
        dcc.Upload(html.Div("Choose a file, or drop it here", className="drop"), id="check-upload",
                   accept=".csv,.tsv,.xlsx,.xls,.xlsm,.parquet", multiple=False),
        dcc.Loading(html.Div(id="check-found", role="status", style={"minHeight": "120px"}),
                    target_components={"check-answer": "data", "check-found": "children"}),
    ] if why is None else [parts_entries.closed(why)]  # fmt: skip
    return html.Div([
        html.P(parts.link("Data health", "/data-health"), className="lead"),
        parts.headline("See what ", parts.strong("would become"),
                       " of a file before it is loaded."),
        parts.context_line(
            "CSV, TSV, XLSX, XLS or Parquet", f"up to {actions.LARGEST / 1e6:.0f} MB",
            "nothing is loaded or kept"),
        dcc.Store(id="entry-token", data=actions.token()),
        dcc.Store(id="check-answer"),
        html.P("Told for each column is what it is read as; then how many rows would be used, and "
               "every row that would be refused, with its reason and what to do.",
               className="caption"),
        *room,
    ], className="page")  # fmt: skip


dash.clientside_callback(
    ClientsideFunction("braidlife_entry", "check"),
    Output("check-answer", "data"),
    Input("check-upload", "contents"),
    State("check-upload", "filename"),
    State("entry-token", "data"),
    prevent_initial_call=True,
)


@callback(
    Output("check-found", "children"),
    Input("check-answer", "data"),
    prevent_initial_call=True,
)
def show(answer: Any) -> Any:
    """Return what was found; the report comes back through the browser that asked for it."""
    if not isinstance(answer, dict) or "problem" in answer:
        return html.P(str((answer or {}).get("problem", "")), className="caution")
    try:
        return parts_check.found(answer)
    except (KeyError, TypeError, AttributeError, IndexError, ValueError) as exc:
        log.error("no report of a check: %s", type(exc).__name__)
        return html.P("The file could not be checked.", className="caution")
