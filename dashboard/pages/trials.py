"""Trials: where two constructions side by side would tell most, and how running ones stand."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts, words
from dashboard.parts import unfilled
from dashboard.parts.trial import blocks
from dashboard.parts.trial import candidates as parts_trials
from dashboard.queries import edition
from dashboard.queries import trials as asked

dash.register_page(__name__, path="/trials", name="Trials", order=6, title="Trials · Braidlife")


def layout(**_: Any) -> html.Div:
    """Return the page."""
    info = edition.info()
    candidates, states, verdicts = asked.candidates(), asked.states(), asked.verdicts()
    planned = [row for row in candidates if row["n_pairs"] is not None]
    return html.Div(
        [
            parts.headline(*blocks.sentence(candidates, states, info)),
            parts.context_line(
                words.count(len(planned), "plan"), words.count(len(states), "registered trial"),
                f"data to {words.date(info['as_of'])}",
            ),
            *([blocks.registered_block(states, info), blocks.candidates_block(planned, info)]
              if states or candidates else [unfilled.block("trials")]),
            blocks.settled_block([row for row in candidates if row["n_pairs"] is None], info),
            blocks.verdicts_block(verdicts, info),
            parts.caution(*parts_trials.CAUTION),
        ],
        className="page",
    )  # fmt: skip
