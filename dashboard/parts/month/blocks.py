"""The blocks of This month, each with what it asks."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.parts import due as parts_due
from dashboard.parts.month import prevented as parts_prevented
from dashboard.parts.month import sections as parts_month
from dashboard.queries import due, edition, track
from dashboard.queries import month as asked

LEAST_MORE = 0.01
"""Failures that removals without a reason add below which they are not spoken of."""


def ten_block(now: dict[str, Any]) -> html.Section:
    """Return the places to act on."""
    rows = asked.ten_places()
    if not rows:
        return parts.section("Places to act on", "", parts.empty("no place is ranked yet"))
    scale = parts_month.money_scale([r["expected_cost_upper"] for r in rows], now["currency"])
    caption = (
        f"Expected cost of failures in the next twelve months, {scale.long}; dot = expected, "
        f"bar = 90 % range.{parts_month.tie_words(rows)}{parts_month.STANDING}"
    )
    title = "Ten places to act on" if len(rows) == 10 else "Places to act on"
    behind = ["The first ten of ", parts.link("all places", "/places"), " by expected cost. ",
              parts.download_links("ranking")]  # fmt: skip
    mark = parts.how(edition.method("expected_cost"), behind, now["as_of"])
    return parts.section(title, caption, parts_month.ten_table(rows, scale), how=mark)


def due_block(now: dict[str, Any]) -> html.Section:
    """Return the planned changes of the coming months."""
    behind = ["Planned changes of twelve months: ", parts.download_links("due"), "; by month: ",
              parts.download_links("planned_work")]  # fmt: skip
    said = " ".join(edition.method(key)["words"] for key in ("preventive_age", "planned_work"))
    mark = parts.how({"words": said}, behind, now["as_of"])
    return parts_due.due_list(due.soon(), due.year(), mark, now["currency"])


def prevented_block(now: dict[str, Any]) -> html.Section | None:
    """Return what the planned changes prevent."""
    behind = ["By month, site, line and class: ", parts.download_links("plan_effect")]
    mark = parts.how(edition.method("plan_effect"), behind, now["as_of"])
    return parts_prevented.prevented_block(
        due.prevented(), due.lasting(), mark, now["currency"])


def soonest_block(now: dict[str, Any]) -> html.Section:
    """Return the hoses most likely to fail within 90 days."""
    rows = asked.soonest()
    title = "Most likely to fail within 90 days"
    if not rows:
        return parts.section(title, "", parts.empty(
            "no chance can be given yet: it takes a hose in service, of a kind that lived before"))
    behind = ["Every hose in service, by its chance. ", parts.download_links("ranking")]
    mark = parts.how(edition.method("failure_probability_90_days"), behind, now["as_of"])
    caption = "Hoses now in service; a chance counts failure, not planned change."
    return parts.section(title, caption, parts_month.soonest_list(rows), how=mark,
                         className="later")


def _planned_cost(now: dict[str, Any]) -> str:
    """Return what planned changes are to cost, in brackets."""
    cost = due.year()["cost"]
    return f" ({words.money(cost, now['currency'])} in twelve months)" if cost else ""


def _unknown_cost() -> str:
    """Return how many more failures lie ahead if removals without a reason are shared out."""
    row = track.unknown_reasons()
    more = row["failures_factor"] - 1.0 if row else 0.0
    return (f" Removals without a reason left out: shared out by age, failures are about "
            f"{words.percent(more)} more.") if more >= LEAST_MORE else ""


def cost_block(now: dict[str, Any]) -> html.Section:
    """Return cost by month, past and ahead."""
    past, ahead = asked.cost_past(), asked.cost_ahead()
    ahead = ahead if any(row["cost_mean"] for row in ahead) else []
    amounts = [row["cost"] for row in past] + [row["cost_upper"] for row in ahead]
    scale = parts_month.money_scale(amounts, now["currency"])
    title = f"Cost of failures by month, {scale.long}"
    if not past:
        return parts.section(title, "", parts.empty("no removal is on record yet"))
    if not ahead and not any(row["cost"] for row in past):
        return parts.section("Cost of failures by month", "", parts.empty(
            "no cost is on record yet: prices of parts, or costs beside the removals, give it"))
    caption = (
        "What failures cost, and are expected to cost with a 90 % range; planned changes"
        f"{_planned_cost(now)} not counted.{_unknown_cost()}"
    )
    if not ahead:
        caption = "What the failures of a month cost. No cost can be forecast yet."
    behind = ["Cost of removals by month, planned ones apart. ", parts.download_links("history"),
              " Forecast: ", parts.download_links("forecast")]  # fmt: skip
    mark = parts.how(edition.method("forecast"), behind, now["as_of"])
    return parts.section(title, caption, parts_month.cost_figure(past, ahead, now, scale), how=mark,
                         className="later")
