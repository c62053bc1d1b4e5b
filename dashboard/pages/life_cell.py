"""One kind of hose: a construction in an application class."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote

import dash
from dash import Input, Output, State, callback, html

from dashboard import grids, parts
from dashboard.downloads import PAGED
from dashboard.parts import choice as parts_choice
from dashboard.parts.kind import hoses as parts_hoses
from dashboard.parts.kind import page as parts_cell_page
from dashboard.queries import lives as asked

dash.register_page(
    __name__, path_template="/lives/<application_class>/<construction>", name="One kind of hose",
    title=lambda construction="", **_: f"{unquote(construction)} · Braidlife",
)  # fmt: skip
PAGED["hoses"] = asked.HOSES


def layout(
    application_class: str = "", construction: str = "", mechanism: str | None = None, **query: Any
) -> html.Div:
    """Return the page of one kind of hose for the choices of the address."""
    kind = unquote(application_class), unquote(construction)
    fits = asked.cell(*kind)
    if not fits:
        return parts.problem_page(
            "There is no such kind of hose.",
            f"No hose of {kind[1][:80]} on {kind[0][:80]} stands in this edition.",
            ("/lives", "Lives"),
        )
    return parts_cell_page.page(kind, fits, mechanism, query)


parts_choice.fit_to_width("life-cell-hoses")


@callback(
    Output("life-cell-hoses", "getRowsResponse"),
    Input("life-cell-hoses", "getRowsRequest"),
    prevent_initial_call=True,
)
def hose_rows(request: Any) -> Any:
    """Return the hoses the table asks for."""
    return grids.answer(asked.HOSES, request, parts_hoses.hose_cells)


@callback(
    Output("shell-goto", "href", allow_duplicate=True),
    Input("life-cell-with", "value"),
    State("shell-location", "pathname"),
    State("shell-location", "search"),
    prevent_initial_call=True,
)
def choose_second(value: str | None, path: str | None, search: str | None) -> Any:
    """Open the page with the chosen second kind in its address."""
    if not path or not path.startswith("/lives/"):
        return dash.no_update
    now = parts_choice.changed(path, search)
    then = parts_choice.changed(path, search, **{"with": value})
    return dash.no_update if now == then else then
