"""The blocks of the page of all places, each with the question it asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from dashboard import grids, parts, words
from dashboard.figures.places import concentration
from dashboard.parts.places import cells as parts_places_cells
from dashboard.parts.places import sections as parts_places
from dashboard.queries import edition
from dashboard.queries import places as asked
from dashboard.queries.edition import Row
from dashboard.table_view import View


def head(now: Row, total: Row) -> html.Div:
    """Return the sentence and its context."""
    unknown = total["n_without_cost"]
    return html.Div([
        parts_places.sentence(total, now["currency"]),
        parts.context_line(
            words.count(now["n_in_service"], "hose") + " in service",
            words.count(total["n_without_hose"], "place") + " without a hose",
            f"cost not known at {unknown:,}" if unknown else None,
        ),
    ])  # fmt: skip


def curve(now: Row) -> html.Section:
    """Return how concentrated the cost is."""
    rows, half = asked.cost_curve(), asked.places_for_half()
    if not rows or half is None:
        return parts.section("Where the cost is", "", parts.empty(
            "no cost is known yet: prices of parts, or costs beside the removals, give it"))
    title = f"{words.count(half, 'place')} {'makes' if half == 1 else 'make'} half the cost"
    figure = concentration(
        [row["n_places"] for row in rows], [row["share_of_cost"] for row in rows], half
    )
    behind = parts.download_links("cost_curve")
    mark = parts.how(edition.method("expected_cost"), behind, now["as_of"])
    drawn = parts.graph("places-curve", figure, 150, f"Share of cost over places: {title}")
    return parts.section(title, "Expected cost of the coming year.", drawn, how=mark)


def table_block(
    now: Row, total: Row, offered: Mapping[str, list[str]], given: Mapping[str, str], view: View
) -> list[Any]:
    """Return filters, table, and list for a narrow screen."""
    shared = parts_places_cells.drawing(total, now["currency"])
    rows = grids.grid(
        "places-grid", parts_places_cells.grid_columns(shared), label="Places by expected cost",
        filters=given, filter_names=list(parts_places.FILTERS),
        n_rows=asked.PLACES.count(given), row_height=parts_places_cells.ROW_HEIGHT, view=view,
    )  # fmt: skip
    mark = parts.how(edition.method("expected_cost"), "Every place of the register.", now["as_of"])
    caption = (
        "Dot = estimate, bar = 90 % range, open where it leaves the scale; filled from five "
        "failures on, hollow at none. Rust: faster than like places, with confidence."
    )
    return [parts.section(
        "All places", caption, parts_places.unfold(len(given)),
        parts_places.filter_row(given, offered),
        html.Div(rows, className="only-wide"),
        html.Div([html.Div(id="places-list"),
                  html.Button("Show more", id="places-more", className="plain", type="button")],
                 className="only-narrow"),
        how=mark,
    )]  # fmt: skip
