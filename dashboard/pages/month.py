"""This month: what came out, where to act, what it will cost."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts, words
from dashboard.actions import incoming as actions_incoming
from dashboard.parts import unfilled
from dashboard.parts.month import blocks
from dashboard.parts.month import moved as parts_moved
from dashboard.parts.month import sections as parts_month
from dashboard.parts.start import page as parts_start_page
from dashboard.queries import earlier, edition
from dashboard.queries import month as asked

dash.register_page(__name__, path="/", name="This month", title="This month · Braidlife", order=1)


def layout(**_: Any) -> html.Div:
    """Return the page; rows are read at every request. A store without logs begins with them."""
    if not actions_incoming.has_edition():
        return parts_start_page.page()
    now = edition.info()
    if not now["n_service_points"]:
        return unfilled.page("No place is on record yet.", "This edition is empty.", "month")
    out = asked.out_this_month()
    return html.Div(
        [
            parts_month.sentence(out, asked.year_before(), asked.dearest_line(), now),
            parts_month.context(now),
            parts_month.report_links(),
            html.Div(
                [html.Div([blocks.ten_block(now),
                           parts_moved.moved_block(earlier.compared(), now["currency"]),
                           blocks.cost_block(now), blocks.prevented_block(now)]),
                 html.Div([blocks.due_block(now), blocks.soonest_block(now)])],
                className="columns wide-narrow in-turn",
            ),
            parts.caution(*words.CAUTION_FORECAST),
        ],
        className="page",
    )
