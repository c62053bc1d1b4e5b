"""Blocks of the page of spares: what to order, the table of parts, one part and its places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard import grids, parts, words
from dashboard.figures.axis import Axis
from dashboard.figures.spares import demand_figure
from dashboard.parts.choice import WIDE, changed
from dashboard.queries.edition import Row

DEMAND_COLUMN = 1
"""Where in the table the demand stands: the column that a choice of span replaces."""
MOST_PLACES = 10
"""A part at more places than this names the rest only on request."""
STATES = {
    "": "All parts",
    "order": "To order now",
    "enough": "Enough in stock",
    "over": "More than a year's need",
    "unknown": "No stock log",
}


def orders_table(
    rows: Sequence[Row], currency: str, *, with_steps: bool = True
) -> html.Table:
    """Return the parts to order now, with why, what it costs and how each number comes about.

    Parameters
    ----------
    rows : sequence of rows of ``order_list``
    currency : str
    with_steps : bool
        Fold the steps to each quantity below its reason; on paper they would be unfolded.
    """
    head = ["Part", "Order", "Cost", "Needed by", "In stock", "Why"]
    body: list[list[Any]] = [
        [
            html.Div([part_link(row["part_number"]), html.Div(where(row), className="below")]),
            html.Strong(words.count(row["order_now"], "hose")),
            words.money(row["cost"], currency) if row["cost"] is not None else "no price",
            needed(row),
            html.Div([stock_words(row), html.Div(levels(row), className="below")]),
            [html.Div(_why(row), className="why"),
             _steps(row) if with_steps else None],
        ]
        for row in rows
    ]
    return parts.table(head, body, className="orders")


def _why(row: Row) -> list[Any]:
    """Return what matters most of the reason, and below it the rest."""
    first, rest = _reason(row)
    lives = f"lives on record: {_evidence(row)}"
    return [first, html.Div(f"{rest}; {lives}" if rest else lives, className="below")]


def _reason(row: Row) -> tuple[str, str]:
    first, _, rest = (row["reason"] or service(row)).partition("; ")
    return first, rest


def _steps(row: Row) -> html.Details:
    """Return the steps to the number to order, folded."""
    return html.Details([html.Summary(f"why {words.count(row['order_now'], 'hose')}"),
                         html.Ul([html.Li(item) for item in quantity_words(row)],
                                 className="list")], className="fold")


def quantity_words(row: Row) -> list[str]:
    """Return how the number to order comes about, step by step."""
    hold = f"Hold {row['stock_level']}"
    if row["level_met"] is not None:
        hold += (f": enough in {words.percent(row['level_met'])} of the spans of a review and a "
                 f"lead time of {words.days(row['lead_time_days'])} (19 in 20 within "
                 f"{words.days(row['lead_time_days_upper'])}), in which "
                 f"{words.number(row['mean'])} hoses are expected to be used")
    there = (row["on_hand"] or 0) + (row["on_order"] or 0)
    short = row["stock_level"] - there
    less = f"In stock: {stock_words(row)}, so {words.count(short, 'hose')} short"
    if row["order_now"] > short:
        less += f"; the least order is {row['minimum_order']}"
    return [f"{hold}.", f"{less}."]


def needed(row: Row) -> list[Any]:
    """Return by when an order is needed, and when one placed at the data date would come."""
    comes = f"an order placed now comes about {words.kept(words.date(row['comes_on']))}"
    if row["needed_by"] is None:
        return ["within the year", html.Div(comes, className="below")]
    late = ": too late" if row["comes_on"] > row["needed_by"] else ""
    when = words.date(row["needed_by"]) if row["days_covered"] else "at once"
    return [when, html.Div(comes + late, className="below")]


def part_link(part_number: str) -> Any:
    """Return the link that opens a part on this page."""
    return parts.link(part_number, "/spares", part=part_number)


def where(row: Row) -> str:
    """Return what the part is and how many places use it."""
    size = f"DN {row['dn']}" if row["dn"] is not None else ""
    used = words.count(row["n_places"] or 0, "place")
    return " · ".join(filter(None, (row["construction"], size, used)))


def stock_words(row: Row) -> str:
    """Return what is in stock and on order, or that no stock log says so."""
    if row["on_hand"] is None:
        return "no stock log"
    coming = f", {row['on_order']} on order" if row["on_order"] else ""
    return (f"{row['on_hand']} here" if row["on_hand"] else "none here") + coming


def levels(row: Row) -> str:
    """Return the reorder point and the level to fill up to."""
    if row["reorder_point"] is None:
        return "no level can be given"
    if row["stock_level"] == 0:
        return "no stock to keep: order when one is needed"
    return f"order at {row['reorder_point']}, fill up to {row['stock_level']}"


def service(row: Row) -> str:
    """Return the chance of no shortage that the level is made for, and why that one."""
    if row["service_level"] is None:
        return ""
    why = f": {row['service_level_reason']}" if row["service_level_reason"] else ""
    return f"level for {words.percent(row['service_level'])} without shortage{why}"


def columns(axes: Mapping[str, Axis], months: str) -> list[dict[str, Any]]:
    """Return the columns of the table of parts for a span of months."""
    return [
        grids.column("part_number", "Part", "Place", called="part", minWidth=126, width=200),
        grids.interval_column(f"mean_{months}_months", f"Hoses in {months} months",
                              axes[months], lambda tick: f"{tick:g}", called="demand",
                              minWidth=136, width=190),
        grids.column("stock_level", "Hold", "TwoLines", called="hold", minWidth=95, width=110,
                     **WIDE),
        grids.column("order_now", "Order now", "TwoLines", called="order", minWidth=95, width=130),
        grids.column("lead_time_days", "Lead time", "TwoLines", called="lead", minWidth=80,
                     width=85, **WIDE),
        grids.column("budget_12_months", "Budget, 12 months", "TwoLines", called="budget",
                     minWidth=115, width=130, **WIDE),
        grids.column("reason", "Why", "TwoLines", minWidth=214, width=380, sortable=False, **WIDE),
    ]  # fmt: skip


def cells(axes: Mapping[str, Axis], currency: str, search: str) -> Any:
    """Return the function that turns rows into what the columns of the table draw."""

    def drawn(rows: Sequence[Row]) -> list[dict[str, Any]]:
        return [_cell(row, axes, currency, search) for row in rows]

    return drawn


def _cell(row: Row, axes: Mapping[str, Axis], currency: str, search: str) -> dict[str, Any]:
    out: dict[str, Any] = {
        "part_number": {"text": row["part_number"], "below": where(row),
                        "href": changed("/spares", search, part=row["part_number"])},
        "stock_level": {"first": levels(row).split(", ")[-1], "below": levels(row).split(", ")[0]}
        if row["reorder_point"] is not None else {"first": levels(row)},
        "order_now": order_cell(row),
        "lead_time_days": {"first": words.days(row["lead_time_days"])},
        "budget_12_months": _budget(row, currency),
        "reason": dict(zip(("first", "below"), _reason(row), strict=True)),
    }  # fmt: skip
    for span, axis in axes.items():
        mean, lower, upper = (row[f"{k}_{span}_months"] for k in ("mean", "lower", "upper"))
        between = words.spread(lower, upper)
        label = f"{words.number(mean)} hoses in {span} months ({between})"
        out[f"mean_{span}_months"] = parts.interval_data(
            mean, lower, upper, axis, label=label, figure=words.number(mean), between=between)
    return out


def order_cell(row: Row) -> dict[str, str]:
    """Return whether to order now, and the stock behind it."""
    if row["order_now"] is None:
        return {"first": "no stock log", "below": "not known whether to order"}
    said = f"order {row['order_now']}" if row["order_now"] else "enough"
    if said == "enough" and is_late(row):
        said = "enough, but it may come late"
    return {"first": said, "below": stock_words(row), "weight": "bold" if row["order_now"] else ""}


def is_late(row: Row) -> bool:
    """Tell whether running out before an order arrives is likelier than the level allows."""
    late = row.get("shortage_probability")
    return late is not None and late > 1.0 - row["service_level"]


def price_words(row: Row, currency: str) -> str:
    """Return what one costs, and of which day that price is."""
    if row["unit_price"] is None:
        return "no price recorded"
    day = f" at the price of {words.date(row['price_on'])}" if row["price_on"] else ""
    return f"{words.money(row['unit_price'], currency)} each{day}"


def _budget(row: Row, currency: str) -> dict[str, str]:
    if row["budget_12_months"] is None:
        return {"first": "no price", "below": "not in the budget"}
    between = words.spread(row["budget_12_months_lower"], row["budget_12_months_upper"])
    return {"first": words.money(row["budget_12_months"], currency), "below": between}


def part_block(
    row: Row, places: Sequence[Row], currency: str, how: Any, how_places: Any,
) -> list[Any]:  # fmt: skip
    """Return one part: demand against stock, and the places whose hose it is."""
    price = price_words(row, currency)
    order = order_cell(row)
    facts = [
        html.Li([html.Strong(order["first"].capitalize()), f": {order['below']}"
                 + (f"; {row['reason']}" if row["reason"] else "")]),
        html.Li("; ".join(filter(None, (levels(row).capitalize(), service(row))))),
        html.Li(served_words(row)),
        html.Li(planned_words(row)),
        html.Li(f"Lead time {words.days(row['lead_time_days'])}, 19 in 20 within "
                f"{words.days(row['lead_time_days_upper'])}; {price}; budget for 12 months "
                f"{_budget(row, currency)['first']} ({_budget(row, currency)['below']})."),
        html.Li(f"Lives of this part on record: {_evidence(row)}."),
    ]  # fmt: skip
    label = f"Demand of {row['part_number']} over 3, 6 and 12 months against stock"
    drawn: Any = parts.empty("No demand can be given: too little is known of its lives.")
    if row["mean_12_months"] is not None:
        drawn = parts.graph("spares-demand", demand_figure(row), 260, label)
    return [
        parts.section(f"{row['part_number']}: demand against stock",
                      f"{where(row)}; dot = hoses expected to be used, bar = 90 % range, upright = "
                      "stock to hold, dotted = stock there is",
                      drawn, html.Ul(facts, className="list"), how=how),
        parts.section("Places that use it", "Chance that the hose there fails within 90 days, "
                      "likeliest first", used_at(places), how=how_places),
    ]  # fmt: skip


def served_words(row: Row) -> str:
    """Return what the level gives: a chance per review and lead time, and a share of demands."""
    if row["level_met"] is None or row["share_served"] is None:
        return "What the level covers is not known."
    return (f"That stock sees no shortage in {words.percent(row['level_met'])} of the spans of a "
            f"review and a lead time, and serves {words.percent(row['share_served'])} of the "
            "hoses asked for at once.")


def planned_words(row: Row) -> str:
    """Return how much of the demand is planned work."""
    planned = row["planned_12_months"]
    if not planned or planned < 0.05:
        return "No planned change falls due here within 12 months."
    return f"Of the 12 months' demand about {words.number(planned)} are planned changes."


def used_at(places: Sequence[Row]) -> Any:
    """Return the places whose hose in service is of a part."""
    if not places:
        return parts.empty("No place has a hose of this part in service now.")
    items = [
        html.Li(html.Div([
            html.Div([parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
                      html.Div(" · ".join(filter(None, (row["application_class"], row["site"],
                                                       row["line"], _evidence(row)))),
                               className="below")]),
            html.Span(_chance(row)),
        ], className="row"))
        for row in places
    ]  # fmt: skip
    first, rest = items[:MOST_PLACES], items[MOST_PLACES:]
    more = html.Details([html.Summary(f"and {words.count(len(rest), 'more place')}"),
                         html.Ul(rest, className="list")], className="fold")  # fmt: skip
    return html.Div([html.Ul(first, className="list"), more if rest else None])


def _evidence(row: Row) -> str:
    """Return how many hoses speak."""
    return words.evidence(row["n_failures"] or 0, row["n_suspensions"] or 0)


def _chance(row: Row) -> str:
    chance = row["failure_probability_90_days"]
    if chance is None:
        return "chance not known"
    between = words.percent_spread(
        row["failure_probability_90_days_lower"], row["failure_probability_90_days_upper"]
    )
    return f"{words.percent(chance)} ({between})"
