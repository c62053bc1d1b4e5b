"""Budget, surplus and stand-ins on the page of spares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, units, words
from dashboard.figures.axis import linear_axis
from dashboard.parts.month.sections import money_scale
from dashboard.parts.spares.sections import part_link, stock_words, where
from dashboard.queries.edition import Row

CAUTION_STAND_IN = (
    "Before another part is fitted:",
    "agreement of size, length, ends and rating is not approval. Alloy against the medium, "
    "movement and local rules are for a person; follow the maker's rating and the site's "
    "management of change.",
)


def budget_block(rows: Sequence[Row], currency: str, how: Any) -> html.Section | None:
    """Return what the parts used up to the end of each quarter cost; nothing without a price."""
    if not rows:
        return None
    scale = money_scale([row["upper"] for row in rows], currency)
    axis = linear_axis([row["upper"] / scale.factor for row in rows])
    shown = [row for row in rows if row["n_months"] % 3 == 0]
    body = [
        [words.count(row["n_months"], "month"),
         parts.interval(row["mean"] / scale.factor, row["lower"] / scale.factor,
                        row["upper"] / scale.factor, axis,
                        label=f"{words.money(row['mean'], currency)}, 90 % range "
                              f"{words.spread(row['lower'], row['upper'], 3)}"),
         words.money(row["p50"], currency), words.money(row["p90"], currency)]
        for row in shown
    ]  # fmt: skip
    missing = rows[0]["n_without_price"]
    caption: list[Any] = [
        f"All parts from the data date on, {scale.long}; dot = expected, bar = 90 % range; "
        "even odds: as likely more as less"
        + (f"; {words.count(missing, 'part')} without a price left out" if missing else "")
        + ". ", html.Span(["Month by month: ", parts.download_links("spares_budget")],
                          className="downloads")]  # fmt: skip
    head = ["Within", parts.axis_header(axis, words.number, f"Budget, {scale.short}"), "Even odds",
            "Enough nine times in ten"]
    return parts.section("Budget", caption, parts.table(head, body, "budget"), how=how)


def surplus_block(rows: Sequence[Row], currency: str, how: Any) -> html.Section | None:
    """Return the parts of which more is held than a year needs; nothing when there is none."""
    if not rows:
        return None
    items = [
        html.Li(html.Div([
            html.Div([part_link(row["part_number"]),
                      html.Div(f"{where(row)} · {stock_words(row)}", className="below")]),
            html.Span(f"{row['overstock']} too many"
                      + (f", {words.money(row['worth'], currency)}"
                         if row["worth"] is not None else "")),
        ], className="row"))
        for row in rows
    ]  # fmt: skip
    return parts.section("More than a year's need",
                         "Here or on order, beyond what covers twelve months at the part's own "
                         "chance of no shortage.",
                         html.Ul(items, className="list"), how=how)  # fmt: skip


def stand_ins_block(rows: Sequence[Row], how: Any) -> html.Section:
    """Return the parts that could be fitted in the place of one."""
    title = "Could stand in"
    if not rows:
        return parts.section(title, "", parts.empty(
            "No other part of the register agrees in size, length and both ends."), how=how)
    items = [
        html.Li(html.Div([
            html.Div([part_link(row["stand_in"]),
                      html.Div(_stand_in(row), className="below")]),
            html.Span(_spare(row)),
        ], className="row"))
        for row in rows
    ]  # fmt: skip
    return parts.section(title, "By the register and the ratings at each place; the other part's "
                         "own need comes first", html.Ul(items, className="list"),
                         parts.caution(*CAUTION_STAND_IN), how=how)  # fmt: skip


def _stand_in(row: Row) -> str:
    """Return why the part is listed and what speaks against it."""
    met = f"duty met at {row['n_places_met']} of {words.count(row['n_places'], 'place')}"
    said = [row["stand_in_construction"], row["basis"], met]
    if row["objection"]:
        said.append(units.sentence(row["objection"]))
    if row["stock_level_with_stand_in"] is not None:
        said.append(f"with it, {row['stock_level_with_stand_in']} of this part are enough")
    return " · ".join(filter(None, said))


def _spare(row: Row) -> str:
    if row["on_hand"] is None:
        return "no stock log"
    return f"{row['spare']} to spare" if row["spare"] else "none to spare"
