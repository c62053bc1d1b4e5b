"""Spares: what to order now, how many to hold, what next year will use."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import dash
from dash import ALL, Input, Output, State, callback, html

from dashboard import grids, parts
from dashboard.parts import choice as parts_choice
from dashboard.parts import unfilled
from dashboard.parts.spares import blocks, money, what_if
from dashboard.parts.spares import sections as parts_spares
from dashboard.parts.spares.chosen import chosen_part
from dashboard.queries import edition
from dashboard.queries import spares as asked
from dashboard.queries.paged import asked_filters

dash.register_page(__name__, path="/spares", name="Spares", order=7, title="Spares · Braidlife")


def layout(**query: Any) -> html.Div:
    """Return the page for the filters and the part of the address."""
    info = edition.info()
    total = asked.summary()
    if not total.get("n_parts"):
        return unfilled.page("No part can be planned yet.",
                             "No hose in service names a part, so there is no demand to tell.",
                             "spares")
    months, known_months = parts_choice.allowed(query.get("months"), blocks.MONTHS)
    _, known_state = parts_choice.allowed(query.get("state"), parts_spares.STATES)
    filters = {name: str(query.get(name) or "") for name in blocks.FILTERS}
    filters["state"] = filters["state"] if known_state else ""

    def how(table: str = "spares", key: str = "spares") -> html.Details:
        rows = ["All rows: ", parts.download_links(table)]
        return parts.how(edition.method(key), rows, info["as_of"])

    return html.Div(
        [
            parts.headline(*blocks.sentence(total, info["currency"])),
            parts.context_line(*blocks.context(total, info)),
            None if known_months and known_state else parts.empty(
                "The address asks for a choice that is not offered; the usual one is shown."),
            *chosen_part(query.get("part"), info["currency"]),
            blocks.order_block(total, asked.orders(), info["currency"], how("order_list")),
            html.Div([
                html.Div([what_if.what_if_block(query, how("spares_what_if")),
                          money.surplus_block(asked.surplus(), info["currency"], how())]),
                html.Div([money.budget_block(asked.budget(), info["currency"],
                                             how("spares_budget", "spares_budget"))]),
            ], className="columns wide-narrow"),
            blocks.parts_block(months, filters, asked.constructions(), blocks.axes(),
                               asked.PARTS.count(filters), how(), query),
            parts.caution("Hazardous service:", "hold what the planned replacement needs, not only "
                          "what failures use, and never fit a part whose rating at temperature, "
                          "alloy or ends do not match. Follow the maker's rating."),
        ],
        className="page",
    )  # fmt: skip


@callback(
    Output("spares-parts", "getRowsResponse"),
    Input("spares-parts", "getRowsRequest"),
    prevent_initial_call=True,
)
def part_rows(request: Any) -> Any:
    """Return the parts the table asks for."""
    kept = asked_filters(request) if isinstance(request, dict) else {}
    drawn = parts_spares.cells(blocks.axes(), edition.info()["currency"], urlencode(kept))
    return grids.answer(asked.PARTS, request, drawn)


@callback(
    Output("spares-parts", "filterModel"),
    Output("spares-parts", "columnDefs"),
    Output("spares-parts-room", "style"),
    Input({"type": "spares-filter", "index": ALL}, "value"),
    State({"type": "spares-filter", "index": ALL}, "id"),
    State("spares-parts", "getRowsRequest"),
    prevent_initial_call=True,
)
def set_filters(values: list[Any], ids: list[dict[str, str]], request: Any) -> Any:
    """Return the filters and the columns of the table from its inputs."""
    given = {item["index"]: value for item, value in zip(ids, values, strict=True)}
    return blocks.filtered(given, request)


what_if.install()
parts_choice.fit_to_width("spares-parts")
parts_choice.keep_in_address("spares-filter", "spares-address")
