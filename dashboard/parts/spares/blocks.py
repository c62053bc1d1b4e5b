"""Blocks of the page of spares: sentence, orders, all parts with their filters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import grids, parts, words
from dashboard.figures.axis import Axis, linear_axis
from dashboard.parts import choice as parts_choice
from dashboard.parts.spares import sections as parts_spares
from dashboard.parts.spares.sections import STATES, columns, orders_table
from dashboard.queries import spares as asked
from dashboard.queries.edition import Row
from dashboard.queries.paged import asked_sort
from dashboard.table_view import View, asked_view, sorted_columns
from dashboard.words.late import late_failures

FILTERS = ("text", "construction", "state")
MONTHS = {"": "12 months", "3": "3 months", "6": "6 months"}
"""Spans of demand; the first is the usual one and stays out of the address."""
PAGE_ROWS, ROW_HEIGHT = 15, 84
"""Of the table of parts; pixels that hold five lines of a reason."""


def sentence(total: Row, currency: str) -> list[Any]:
    """Return the sentence for the buyer."""
    if total["n_without_stock"] == total["n_parts"]:
        return ["Without a stock log nobody can say what to order; next year is "
                "expected to use ", parts.strong(f"{words.number(total['demand'])} hoses"),
                ", by part below with its range."]  # fmt: skip
    if not total["n_to_order"]:
        out: list[Any] = [parts.strong("Nothing needs ordering now")]
    else:
        many = words.count(total["n_to_order"], "part")
        out = ["Order ", parts.strong(f"{words.count(total['n_hoses'], 'hose')} of {many} now"),
               cost_words(total, currency)]  # fmt: skip
    over = total["n_over"]
    if over:
        worth = total["over_worth"]
        out += ["; ", parts.strong(words.count(over, "part")),
                f" {'are' if over > 1 else 'is'} stocked beyond a year's need"
                + (f", {words.money(worth, currency)} too much" if worth else "")]  # fmt: skip
    return [*out, "."]


def cost_words(total: Row, currency: str) -> str:
    """Return what the orders cost, saying how many have no price."""
    if total["order_cost"] is None:
        return ", cost not known: no price recorded"
    missing = total["n_order_no_price"]
    without = f" plus {words.count(missing, 'part')} without a price" if missing else ""
    return f", for {words.money(total['order_cost'], currency)}{without}"


def context(total: Row, info: Row) -> list[str]:
    """Return the counts under the sentence."""
    budget = total["budget"]
    return [
        words.count(total["n_parts"], "part"),
        f"about {words.number(total['demand'])} hoses expected to be used in 12 months",
        f"worth about {words.money(budget, info['currency'])}, nine times in ten less than "
        f"{words.money(total['budget_p90'], info['currency'])}"
        if budget is not None else "no prices",
        f"{words.count(total['n_late'], 'part')} likelier to run out before a new order arrives "
        "than their level allows" if total["n_late"] else "",
        *(f"{words.count(total[name], 'part')} without a {what}" if total[name] else ""
          for name, what in (("n_without_stock", "stock log"), ("n_without_price", "price"))),
        late_failures(info),
        f"data to {words.date(info['as_of'])}",
    ]


def order_block(total: Row, rows: Sequence[Row], currency: str, how: Any) -> html.Section:
    """Return the list of parts to order now."""
    body: Any = orders_table(rows, currency) if rows else parts.empty(
        "No part with a stock log is at or below its reorder point.")  # fmt: skip
    more = total["n_to_order"] - len(rows)
    rest = [html.P(["and ", parts.link(f"{more} more", "/spares", state="order")],
                   className="caption")] if more > 0 else []  # fmt: skip
    return parts.section(
        "Order now", ["Stock here and on order is at or below the reorder point; dearest first. "
                      "Needed by: after that day the stock left is not enough for the "
                      "wanted chance of no shortage. The list to send, its method on the second "
                      "sheet: ",
                      parts.download_links("order_list")],
        body, *rest, how=how,
    )  # fmt: skip


def parts_block(
    months: str, filters: Mapping[str, str], constructions: Sequence[str],
    axes: Mapping[str, Axis], n_parts: int, how: Any, query: Mapping[str, Any],
) -> html.Section:  # fmt: skip
    """Return the table of all parts with its filters."""
    heads = columns(axes, months or "12")
    view = asked_view(query, heads)
    offered = {"": "All constructions"} | {name: name for name in constructions}

    def select(name: str, label: str, options: dict[str, str], value: str) -> dmc.Select:
        data = [{"value": key, "label": text} for key, text in options.items()]
        return dmc.Select(id={"type": "spares-filter", "index": name}, label=label, data=data,
                          value=value, allowDeselect=False)  # fmt: skip

    controls = [
        dmc.TextInput(id={"type": "spares-filter", "index": "text"}, label="Part or construction",
                      value=filters["text"], debounce=300),
        select("construction", "Construction", offered, filters["construction"]),
        select("state", "Stock", STATES, filters["state"]),
        select("months", "Demand over", MONTHS, months),
        dcc.Store(id="spares-address"),
    ]  # fmt: skip
    return parts.section(
        "All parts", ["Demand by failures, planned changes and removals as before: dot = expected, "
                      "bar = 90 % range. Every part: ", parts.download_links("spares")],
        html.Div(controls, className="filters"),
        grids.grid("spares-parts", heads, label="Parts",
                   filters=filters, filter_names=tuple(filters), page_rows=PAGE_ROWS,
                   row_height=ROW_HEIGHT, n_rows=n_parts, view=view),
        parts_choice.not_offered(view.faults),
        how=how,
    )  # fmt: skip


def axes() -> dict[str, Axis]:
    """Return the scale that all parts share, by span in months."""
    return {span: linear_axis(ends) for span, ends in asked.upper_demands().items()}


def filtered(
    given: Mapping[str, Any], request: Any
) -> tuple[dict[str, Any], Any, dict[str, str]]:
    """Return the filters, the columns and the room of the table for what its inputs say.

    Another span of demand is another column: it takes over the order of the one before, which the
    last `request` of the table names.
    """
    months, _ = parts_choice.allowed(given.get("months"), MONTHS)
    filters = {name: given.get(name) for name in FILTERS}
    demand = dash.Patch()
    column = parts_spares.columns(axes(), months or "12")[parts_spares.DEMAND_COLUMN]
    by = asked_sort(request) if isinstance(request, Mapping) else []
    order = next((str(item.get("sort")) for item in by
                  if str(item.get("colId")).startswith("mean_")), None)
    view = View({column["colId"]: order} if order else {})
    demand[parts_spares.DEMAND_COLUMN] = sorted_columns([column], view)[0]
    room = grids.room(asked.PARTS.count(filters), PAGE_ROWS, ROW_HEIGHT)
    return grids.filter_model(filters), demand, room
