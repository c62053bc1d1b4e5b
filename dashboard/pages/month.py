"""This month: what came out, where to act, what it will cost."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts, parts_due, parts_month, parts_moved, words
from dashboard.queries import due, earlier, edition
from dashboard.queries import month as asked

dash.register_page(__name__, path="/", name="This month", title="This month · Braidlife", order=1)


def layout(**_: Any) -> html.Div:
    """Return the page; rows are read at every request."""
    now = edition.info()
    if not now["n_service_points"]:
        return parts.problem_page(
            "No place is on record yet.",
            "The edition is empty: load a register of places, installations and replacements.",
            ("/data-health", "Data health"),
        )
    out = asked.out_this_month()
    return html.Div(
        [
            parts_month.sentence(out, asked.year_before(), asked.dearest_line(), now),
            parts_month.context(now),
            parts_month.report_links(),
            html.Div(
                [html.Div([_ten(now), parts_moved.moved_block(earlier.compared(), now["currency"]),
                           _cost(now)]),
                 html.Div([_due(now), _soonest(now)])],
                className="columns wide-narrow",
            ),
            parts.caution(*words.CAUTION_FORECAST),
        ],
        className="page",
    )


def _ten(now: dict[str, Any]) -> html.Section:
    """Return the places to act on."""
    rows = asked.ten_places()
    if not rows:
        return parts.section("Places to act on", "", parts.empty("no place is ranked yet"))
    scale = parts_month.money_scale([r["expected_cost_upper"] for r in rows], now["currency"])
    caption = (
        f"Expected cost of failures in the next twelve months, {scale.long}; dot = expected, "
        f"bar = 90 % range.{parts_month.tie_words(rows)}"
    )
    title = "Ten places to act on" if len(rows) == 10 else "Places to act on"
    behind = ["The first ten of ", parts.link("all places", "/places"), " by expected cost. ",
              parts.download_links("ranking")]  # fmt: skip
    mark = parts.how(edition.method("expected_cost"), behind, now["as_of"])
    return parts.section(title, caption, parts_month.ten_table(rows, scale), how=mark)


def _due(now: dict[str, Any]) -> html.Section:
    """Return the planned changes of the coming months."""
    behind = ["Planned changes of twelve months: ", parts.download_links("due"), "; by month: ",
              parts.download_links("planned_work")]  # fmt: skip
    said = " ".join(edition.method(key)["words"] for key in ("preventive_age", "planned_work"))
    mark = parts.how({"words": said}, behind, now["as_of"])
    return parts_due.due_list(due.soon(), due.year(), mark, now["currency"])


def _soonest(now: dict[str, Any]) -> html.Section:
    """Return the hoses most likely to fail within 90 days."""
    rows = asked.soonest()
    title = "Most likely to fail within 90 days"
    if not rows:
        return parts.section(title, "", parts.empty("no chance can be given yet"))
    behind = ["Every hose in service, by its chance. ", parts.download_links("ranking")]
    mark = parts.how(edition.method("failure_probability_90_days"), behind, now["as_of"])
    caption = "Hoses now in service; a chance counts failure, not planned change."
    return parts.section(title, caption, parts_month.soonest_list(rows), how=mark)


def _planned_cost(now: dict[str, Any]) -> str:
    """Return what planned changes are to cost, in brackets."""
    cost = due.year()["cost"]
    return f" ({words.money(cost, now['currency'])} in twelve months)" if cost else ""


def _cost(now: dict[str, Any]) -> html.Section:
    """Return cost by month, past and ahead."""
    past, ahead = asked.cost_past(), asked.cost_ahead()
    amounts = [row["cost"] for row in past] + [row["cost_upper"] for row in ahead]
    scale = parts_month.money_scale(amounts, now["currency"])
    title = f"Cost of failures by month, {scale.long}"
    if not past and not ahead:
        return parts.section(title, "", parts.empty("no removal is on record yet"))
    caption = (
        "What failures cost, and are expected to cost with a 90 % range; planned changes"
        f"{_planned_cost(now)} not counted."
    )
    if not any(row["cost_mean"] for row in ahead):
        ahead, caption = [], "What the failures of a month cost. No cost can be forecast yet."
    behind = ["Cost of removals by month, planned ones apart. ", parts.download_links("history"),
              " Forecast: ", parts.download_links("forecast")]  # fmt: skip
    mark = parts.how(edition.method("forecast"), behind, now["as_of"])
    return parts.section(title, caption, parts_month.cost_figure(past, ahead, now, scale), how=mark)
