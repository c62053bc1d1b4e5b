"""All places, ranked by what they are expected to cost."""

from __future__ import annotations

from typing import Any

import dash
from dash import ClientsideFunction, Input, Output, callback, clientside_callback, html

from dashboard import grids, parts, table_view, units, words
from dashboard.parts import unfilled
from dashboard.parts.places import blocks
from dashboard.parts.places import cells as parts_places_cells
from dashboard.parts.places import sections as parts_places
from dashboard.queries import edition
from dashboard.queries import places as asked

dash.register_page(__name__, path="/places", name="Places", title="Places · Braidlife", order=2)

BOXES = [f"places-{name.replace('_', '-')}" for name in parts_places.FILTERS]


def layout(**query: Any) -> html.Div:
    """Return the page; every filter of the address is checked against what there is."""
    given = {name: value for name, value in query.items()
             if isinstance(value, str) and value
             and name not in (units.PARAMETER, *table_view.NAMES)}  # fmt: skip
    now, total, offered = edition.info(), asked.summary(), asked.choices()
    shared = parts_places_cells.drawing(total, now["currency"])
    view = table_view.asked_view(query, parts_places_cells.grid_columns(shared))
    faults = [*parts_places.broken_filters(given, offered), *view.faults]
    if faults:
        return parts.problem_page(
            "This address asks for something that is not there.",
            ". ".join(faults) + ".", ("/places", "all places"),
        )  # fmt: skip
    if not total["n_places"]:
        return unfilled.page("No place is on record yet.", "This edition is empty.", "places")
    head = html.Div([blocks.head(now, total), blocks.curve(now)], className="places-head")
    return html.Div(
        [*parts_places.stores(), head, *blocks.table_block(now, total, offered, given, view),
         parts.caution(*words.CAUTION_FORECAST)],
        className="page list-first",
    )  # fmt: skip


clientside_callback(
    ClientsideFunction("braidlife", "keep_filters"),
    Output("places-filters", "data"),
    Output("places-grid", "filterModel"),
    [Input(box, "value") for box in BOXES],
)
clientside_callback(
    ClientsideFunction("braidlife", "clear_filters"),
    [Output(box, "value") for box in BOXES],
    Input("places-clear", "n_clicks"),
    prevent_initial_call=True,
)


@callback(
    Output("places-grid", "getRowsResponse"),
    Output("places-grid-room", "style"),
    Input("places-grid", "getRowsRequest"),
    prevent_initial_call=True,
)
def rows(request: Any) -> Any:
    """Answer the table's question for one page of rows."""
    if not request:
        return dash.no_update, dash.no_update
    shared = parts_places_cells.drawing(asked.summary(), edition.info()["currency"])
    found = grids.answer(asked.PLACES, request, parts_places_cells.cell_maker(shared))
    return found, grids.room(
        found["rowCount"], row_height=parts_places_cells.ROW_HEIGHT)


@callback(
    Output("places-list", "children"), Output("places-more", "hidden"),
    Output("places-downloads", "children"),
    Input("places-filters", "data"), Input("shell-width", "data"),
    Input("places-more", "n_clicks"),
)  # fmt: skip
def narrow(filters: Any, width: Any, clicks: Any) -> Any:
    """Return the list of a narrow screen, and the downloads under the same filters."""
    chosen = {k: v for k, v in (filters or {}).items() if k in parts_places.FILTERS and v}
    links = parts.download_links("places", {k: str(v) for k, v in chosen.items()})
    if width != "narrow":
        return dash.no_update, True, links
    shown = grids.PAGE_ROWS * (1 + int(clicks or 0))
    shared = parts_places_cells.drawing(asked.summary(), edition.info()["currency"])
    found = asked.PLACES.page(chosen, [], 0, shown)
    n = asked.PLACES.count(chosen)
    said = words.count(n, "place") + (" fits" if n == 1 else " fit") + " these filters."
    return [html.P(said, className="caption"), parts_places_cells.narrow_list(found, shared)], (
        shown >= n
    ), links
