"""Data health: what was loaded, corrected, refused and left out, and what is in doubt."""

from __future__ import annotations

from typing import Any

import dash
from dash import ALL, Input, Output, State, callback, html

from dashboard import grids, parts
from dashboard.accounts import done
from dashboard.downloads import PAGED
from dashboard.parts import choice as parts_choice
from dashboard.parts.health import blocks
from dashboard.parts.health import sections as parts_health
from dashboard.queries import edition
from dashboard.queries import health as asked
from dashboard.table_view import asked_view

dash.register_page(
    __name__, path="/data-health", name="Data health", order=9, title="Data health · Braidlife"
)
PAGED["refused_rows"] = asked.REFUSED


def layout(**query: Any) -> html.Div:
    """Return the page for the filters of the address."""
    info, total, doubts = edition.info(), asked.totals(), asked.doubts()
    filters = {name: str(query.get(name) or "") for name in blocks.FILTERS}
    refused = blocks.refused(
        asked.reasons(), asked.refused_logs(), asked.refused_files(),
        asked.REFUSED.count(filters), filters, info,
        asked_view(query, parts_health.refused_columns()),
    )  # fmt: skip
    return html.Div(
        [
            parts.headline(*blocks.sentence(total, info, doubts)),
            parts.context_line(*blocks.context(total, info),
                               parts.link("load files", "/start"),
                               parts.link("check a file", "/data-health/check-file")),
            html.Div([blocks.files(asked.loads(), info), blocks.doubts(doubts, info)],
                     className="columns wide-narrow in-turn"),
            refused,
            html.Div([blocks.corrections(asked.corrections()),
                      blocks.optional(asked.optional_logs())], className="columns wide-narrow"),
            html.Div([blocks.findings(asked.findings()),
                      blocks.exclusions(asked.exclusions(), asked.exclusion_files(), info)],
                     className="columns wide-narrow"),
            done.block(),
        ],
        className="page",
    )  # fmt: skip


parts_choice.fit_to_width("data-health-rows")


@callback(
    Output("data-health-rows", "getRowsResponse"),
    Input("data-health-rows", "getRowsRequest"),
    prevent_initial_call=True,
)
def refused_rows(request: Any) -> Any:
    """Return the refused rows the table asks for."""
    return grids.answer(asked.REFUSED, request, parts_health.refused_cells)


@callback(
    Output("data-health-rows", "filterModel"),
    Output("data-health-rows-room", "style"),
    Output("data-health-downloads", "children"),
    Input({"type": "data-health-filter", "index": ALL}, "value"),
    State({"type": "data-health-filter", "index": ALL}, "id"),
    prevent_initial_call=True,
)
def set_filters(values: list[Any], ids: list[dict[str, str]]) -> Any:
    """Return the filters of the table, its room, and the downloads under the same filters."""
    filters = blocks.given({item["index"]: v for item, v in zip(ids, values, strict=True)})
    room = grids.room(asked.REFUSED.count(filters), 10)
    return grids.filter_model(filters), room, parts.download_links("refused_rows", filters)


parts_choice.keep_in_address("data-health-filter", "data-health-address")
