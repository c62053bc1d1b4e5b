"""Deciding on the page of a trial: what was decided, the last day, and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, dcc, html

from dashboard import actions, parts, words
from dashboard.actions import trial as actions_trial
from dashboard.parts import entries as parts_entries
from dashboard.queries.edition import Row
from dashboard.record.screens import send

HOW = ("Name one arm and what becomes of it, as in the choices: later plans and next steps follow "
       "it. Kept as rows of the trials log with who and when; the next edition counts it. A file "
       "of the log that is loaded later stands over it, so write it there as well.")
CAUTION = (
    "A decision is no rating:",
    "the adopted construction still has to be within its maker's rating at pressure and "
    "temperature, and a change in hazardous service needs the site's management-of-change "
    "approval. Local codes and licensed practice come first.",
)
SAVED = "The decision is saved."


def field(name: str) -> dict[str, str]:
    """Return the id of a box of the form."""
    return {"type": "decide-field", "index": name}


def block(state: Row) -> Any:
    """Return the form, folded away, or why there is none."""
    why = actions.why_not()
    if why is not None:
        return parts_entries.closed(why)
    trial, arms = state["trial"], [arm for arm in (state["first_arm"], state["second_arm"]) if arm]
    choices = [*(f"{arm} adopted" for arm in arms), "no difference shown, both kept"]
    ended = state["ended_on"] or (dt.date.today() if state["decision"] is None else None)
    title = "Decide this trial" if state["decision"] is None else "Change the decision"
    return html.Div([
        dcc.Store(id="decide-trial", data=trial), dcc.Store(id="decide-sent"),
        dcc.Store(id="entry-token", data=actions.token()),
        html.Div([
            html.Div(id="decide-said", className="said", role="status"),
            html.Details([
                html.Summary(title), html.P(HOW, className="caption"),
                html.Div([
                    dmc.Autocomplete(id=field("decision"), label="What was decided", data=choices,
                                     value=state["decision"] or "",
                                     comboboxProps={"shadow": "none"}),
                    dmc.TextInput(id=field("ended_on"), label="Last day, like 2026-02-28",
                                  value=ended.isoformat() if ended else ""),
                    dmc.TextInput(id=field("who"), label="Your name", **parts_entries.name("")),
                    dmc.Textarea(id=field("reason"), label="Why", value="", autosize=True,
                                 minRows=2),
                    send("Save the decision", "decide", kind="main",
                         confirm="Press again to save it"),
                ], className="form"),
                parts.caution(*CAUTION),
            ], className="fold"),
        ], className="screen", **{"data-sends-to": "decide-sent", "data-turn": trial}),
        parts_entries.edition_line(),
    ])  # fmt: skip


def who_decided(rows: Sequence[Row]) -> html.P | None:
    """Return why it was decided so, by whom and when, as far as the log says."""
    said: list[str] = []
    reasons = {row["decision_reason"] for row in rows if row.get("decision_reason")}
    said += [f"Why: {reason.rstrip('.')}." for reason in sorted(reasons)]
    entered = {(row["entered_at"], row["entered_by"]) for row in rows if row.get("entered_by")}
    if entered:
        at, who = max(entered)
        day = dt.datetime.fromisoformat(at).date()
        said.append(f"Entered by {who} on {words.date(day)}.")
    return html.P(" ".join(said), className="caption") if said else None


def press(sent: Any, trial: object, token: object, values: list[Any], ids: list[Any]) -> str:
    """Save a decision."""
    if not isinstance(sent, dict) or sent.get("do") != "decide":
        return ""
    given = {str(item["index"]): str(value or "").strip()
             for item, value in zip(ids, values, strict=True)}
    try:
        taken = actions_trial.decide(
            token, str(sent.get("id")), given.get("who", ""), str(trial),
            given.get("decision", ""), given.get("ended_on", ""), given.get("reason", ""))
        if not taken.is_kept:
            return f"Not saved: {_once(taken)}"
        actions.make_edition(token)
    except actions.NOT_KEPT as exc:
        return str(exc)
    parts_entries.watch()
    return SAVED if taken.is_new else "Saved before; it counts once."


def _once(taken: actions.Taken) -> str:
    """Return what is wrong; all rows of a trial say it alike."""
    return " ".join(dict.fromkeys(fault.words for fault in taken.faults))


def register(app: dash.Dash) -> None:
    """Register the form with an app."""
    app.callback(
        Output("decide-said", "children"),
        Input("decide-sent", "data"),
        State("decide-trial", "data"),
        State("entry-token", "data"),
        State({"type": "decide-field", "index": ALL}, "value"),
        State({"type": "decide-field", "index": ALL}, "id"),
        prevent_initial_call=True,
    )(press)
