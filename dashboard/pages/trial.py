"""One trial: the plan at a place, or how a registered one stands."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote

import dash
from dash import html

from dashboard import parts
from dashboard.downloads import PAGED
from dashboard.parts.trial import page as parts_trial_page
from dashboard.queries import edition
from dashboard.queries import trials as asked

dash.register_page(
    __name__, path_template="/trials/<trial>", name="One trial",
    title=lambda trial="", **_: f"{unquote(trial)} · Braidlife",
)  # fmt: skip
PAGED["trials_log"] = asked.LOG_ROWS


def layout(trial: str = "", **_: Any) -> html.Div:
    """Return the page of a registered trial, or of the plan at a place."""
    name = unquote(trial)
    info, state = edition.info(), asked.state(name)
    if state is not None:
        return parts_trial_page.registered(state, info)
    candidate = asked.candidate(name)
    if candidate is not None:
        return parts_trial_page.planned(candidate, info)
    shown = name if len(name) <= 80 else name[:80] + "…"
    return parts.problem_page(
        f"There is no trial or plan called “{shown}”.",
        "A plan disappears once its places are in a trial, or nothing is left to learn.",
        ("/trials", "Trials"),
    )
