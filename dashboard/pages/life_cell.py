"""One kind of hose: a construction in an application class."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote

import dash
from dash import Input, Output, State, callback, html

from dashboard import (
    grids,
    parts,
    parts_cell_blocks,
    parts_choice,
    parts_compare,
    parts_due,
    parts_hoses,
    parts_lives,
    parts_lives_law,
    parts_recurrence,
    words,
    words_lives,
)
from dashboard.downloads import PAGED
from dashboard.parts_cell_blocks import How
from dashboard.queries import due, edition
from dashboard.queries import lives as asked
from dashboard.queries.edition import Row

dash.register_page(
    __name__, path_template="/lives/<application_class>/<construction>", name="One kind of hose",
    title=lambda construction="", **_: f"{unquote(construction)} · Braidlife",
)  # fmt: skip
PAGED["hoses"] = asked.HOSES
Kind = tuple[str, str]


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
    names = {fit["mechanism"]: words.mechanism(fit["mechanism"]) for fit in fits}
    mechanism, is_known = parts_choice.allowed(mechanism, names)
    fit = next(fit for fit in fits if fit["mechanism"] == mechanism)
    curve, points = asked.curve(*kind, mechanism), asked.points(*kind, mechanism)
    second = asked.second_opinion(*kind, mechanism)
    as_of, other = edition.info()["as_of"], query.get("with") or ""
    blocks, path = parts_cell_blocks, parts_lives.kind_href(*kind)

    def how(key: str, table: str) -> html.Details:
        return parts.how(edition.method(key), ["All rows: ", parts.download_links(table)], as_of)

    return html.Div(
        [
            html.P([parts.link("Lives", "/lives"), f" · {kind[0]} · {kind[1]}"], className="lead"),
            parts.headline(*blocks.sentence(kind, fits)),
            parts.context_line(*blocks.context(fits[0], asked.endings(*kind))),
            None if is_known else parts.empty(
                "No failure by that mechanism here; any failure is shown instead."),
            parts_choice.choice("Failed by", "mechanism", names, mechanism, path, {"with": other}),
            html.Div(blocks.plots(fit, points, curve, second, how),
                     className="columns wide-narrow"),
            parts_lives_law.block(fit, second, points, how("fit_tests", "fit_tests")),
            blocks.mechanisms(fits, mechanism, how),
            parts_due.age_block(due.of_kind(*kind), how("preventive_age", "preventive_ages"),
                                edition.info()["currency"],
                                parts.caution(*parts_due.CAUTION_WORK)),
            html.Div(blocks.curves(fit, curve, asked.incidence(*kind),
                                   asked.free_survival(*kind, mechanism), how),
                     className="columns halves"),
            parts_recurrence.block(kind[0], *asked.recurrence(kind[0]),
                                   how("recurrence", "mean_cumulative_failures")),
            comparison(kind, fit, other, curve, how),
            parts_hoses.hoses_block(kind, fits[0]["n_lives"], as_of),
            parts.caution(*words_lives.CAUTION_B10),
        ],
        className="page",
    )  # fmt: skip


def comparison(
    kind: Kind, fit: Row, other: str, curve: list[Row], how: How
) -> html.Section:
    """Return the comparison with the second kind of the address."""
    kinds = [tuple(row.values()) for row in asked.comparable(*kind)]
    second, mechanism = parts_compare.chosen(other, kinds), fit["mechanism"]
    mark = how("life_comparisons", "life_comparisons")
    if second is None:
        text = "The second kind of the address has neither class nor construction in common with "
        text += "this one, or is not in this edition."
        return parts_compare.block(kinds, other, [parts.empty(text)] if other else [])
    theirs = next((f for f in asked.cell(*second) if f["mechanism"] == mechanism), None)
    row = asked.comparison(second, kind, mechanism)
    if theirs is None or row is None:
        said = [parts.empty(f"The second kind has no fit for {words.mechanism(mechanism)}.")]
        return parts_compare.block(kinds, other, said)
    curves = [curve, asked.curve(*second, mechanism)]
    body = [parts_compare.side_by_side((kind, second), [fit, theirs], curves, row)]
    return parts_compare.block(kinds, other, body, mark)


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
