"""What the table of all places draws in each cell, and the same as a list for a phone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import Axis, linear_axis, ratio_axis
from dashboard.grids import column, interval_column
from dashboard.parts.month.sections import Scale, money_scale
from dashboard.queries.edition import Row

LONGEST_UNIT = 6
ROW_HEIGHT = 76
"""Pixels of most rows: a next step with two lines of reason."""
RATES = ratio_axis(5.0)
"""Failures here over failures at like places, from a fifth to five times."""


@dataclass(frozen=True)
class Drawing:
    """The unit of money and the two scales that all places share."""

    scale: Scale
    cost: Axis
    chance: Axis

    def amounts(self, row: Row) -> tuple[float | None, float | None, float | None]:
        """Return expected cost and its range in the unit of the page."""
        cost, lower, upper = (
            None if row[name] is None else row[name] / self.scale.factor
            for name in ("expected_cost", "expected_cost_lower", "expected_cost_upper")
        )
        return cost, lower, upper


def drawing(total: Row, currency: str) -> Drawing:
    """Return the scales of a fleet: they hold the dearest place and the largest chance."""
    scale = money_scale([total["cost_scale"]], currency)
    cost = total["cost_scale"]
    # No scale of what nobody knows.
    cost_axis = linear_axis([cost / scale.factor], share=1.0) if cost else Axis(0.0, 1.0, ())
    top = min(1.0, linear_axis([total["chance_scale"]], share=1.0).high)
    return Drawing(scale, cost_axis, Axis(0.0, top, (0.0, top)))


def _cost_title(unit: str) -> str:
    """Return the heading of the cost; the words for an undeclared currency would not fit in it."""
    return f"Cost next year, {unit}" if len(unit) <= LONGEST_UNIT else "Cost next year"


def grid_columns(shared: Drawing) -> list[dict[str, Any]]:
    """Return the columns of the table."""
    return [
        column("rank", "Rank", called="rank", width=48, minWidth=48, maxWidth=48,
               cellClass="quiet-text"),
        column("service_point", "Place", "Place", called="place", width=270, minWidth=146),
        column("construction", "Hose now", "TwoLines", called="hose", width=130, minWidth=98),
        interval_column("relative_rate", "Against like places", RATES, _times, called="rate",
                        width=150, minWidth=118),
        column("n_failures", "Hoses", "TwoLines", called="failures", width=120, minWidth=112),
        interval_column("expected_cost", _cost_title(shared.scale.short), shared.cost,
                        words.number, called="cost", width=160, minWidth=118),
        interval_column("failure_probability_90_days", "Fails within 90 days",
                        shared.chance, words.percent, called="chance", width=150, minWidth=118),
        column("next_step", "Next step", "TwoLines", called="step", width=310, minWidth=176),
    ]  # fmt: skip


def _times(value: float) -> str:
    """Return a ratio as a multiple."""
    return f"{value:g}×"


def place_cell(row: Row) -> dict[str, Any]:
    """Return name, link, hazards and whereabouts of a place."""
    where = ", ".join(filter(None, (row["site"], row["line"])))
    return {
        "text": row["service_point"],
        "href": parts.place_href(row["service_point"]),
        "below": " · ".join(filter(None, (row["application_class"], where))),
        "hazards": row["hazards"] or [],
    }


def hose_words(row: Row) -> tuple[str, str]:
    """Return the hose now at a place and its age, or why there is none."""
    if row["hose_id"] is None:
        if row["retired_on"]:
            return "retired", words.date(row["retired_on"])
        return ("no hose now", "") if row["n_lives"] else ("no hose yet", "")
    return row["construction"] or "construction unknown", f"{words.days(row['age_days'])} old"


def cell_maker(shared: Drawing) -> Any:
    """Return the function that turns rows into what the table draws."""

    def cells(rows: list[Row]) -> list[dict[str, Any]]:
        return [_cells(row, shared) for row in rows]

    return cells


def rate_words(row: Row) -> str:
    """Return how fast a place is against like places, in words."""
    span = words.spread(row["relative_rate_lower"], row["relative_rate_upper"])
    return f"{words.number(row['relative_rate'])} times as fast as like places, 90 % range {span}"


def _cells(row: Row, shared: Drawing) -> dict[str, Any]:
    """Return what every column draws for one place."""
    first, below = hose_words(row)
    return {
        "rank": row["rank"],
        "service_point": place_cell(row),
        "construction": {"first": first, "below": below},
        "relative_rate": _rate_cell(row),
        "n_failures": {
            "first": words.evidence(row["n_failures"] or 0, row["n_suspensions"] or 0),
            "below": _expected(row),
        },
        "expected_cost": _cost_cell(row, shared),
        "failure_probability_90_days": _chance_cell(row, shared),
        "next_step": {
            "first": row["next_step"] or "nothing to do",
            "weight": "bold",
            "below": row["next_step_reason"] or "",
        },
    }


def _rate_cell(row: Row) -> dict[str, Any]:
    if row["n_lives"] and not row["n_peers"]:
        return {"absent": "no like place"}
    return parts.interval_data(
        row["relative_rate"], row["relative_rate_lower"], row["relative_rate_upper"], RATES,
        label=rate_words(row), n_failures=row["n_failures"] or 0,
        attention=bool(row["is_failure_prone"]), absent="no hose to judge by",
        figure=words.number(row["relative_rate"]) + "×",
        between=words.spread(row["relative_rate_lower"], row["relative_rate_upper"]),
    )  # fmt: skip


def _cost_cell(row: Row, shared: Drawing) -> dict[str, Any]:
    cost, lower, upper = shared.amounts(row)
    return parts.interval_data(
        cost, lower, upper, shared.cost, label=_cost_words(row, shared),
        n_failures=row["n_failures"] or 0, attention=bool(row["is_failure_prone"]),
        absent="cost not known", figure=words.number(cost, 3),
        between=words.spread(lower, upper, 3),
    )  # fmt: skip


def _cost_words(row: Row, shared: Drawing) -> str:
    cost, lower, upper = shared.amounts(row)
    span = words.spread(lower, upper, 3)
    return f"{shared.scale.long}{words.SPACE}{words.number(cost, 3)} a year, 90 % range {span}"


def _chance_cell(row: Row, shared: Drawing) -> dict[str, Any]:
    name = "failure_probability_90_days"
    chance, lower, upper = row[name], row[f"{name}_lower"], row[f"{name}_upper"]
    span = words.percent_spread(lower, upper)
    return parts.interval_data(
        chance, lower, upper, shared.chance, label=f"{words.percent(chance)}, 90 % range {span}",
        n_failures=row["n_failures"] or 0, attention=bool(row["is_failure_prone"]),
        absent="no hose in service", figure=words.percent(chance), between=span,
    )  # fmt: skip


def _expected(row: Row) -> str:
    if row["failures_expected_so_far"] is None:
        return ""
    return f"{words.number(row['failures_expected_so_far'])} expected"


def narrow_list(rows: list[Row], shared: Drawing) -> html.Ul:
    """Return the same facts as a list, for a narrow screen."""
    return html.Ul([_narrow_item(row, shared) for row in rows], className="list")


def _narrow_item(row: Row, shared: Drawing) -> html.Li:
    cells = _cells(row, shared)
    cost, lower, upper = shared.amounts(row)
    drawn = parts.interval(
        cost, lower, upper, shared.cost, label=_cost_words(row, shared),
        n_failures=row["n_failures"] or 0, attention=bool(row["is_failure_prone"]),
        absent="cost not known",
    )  # fmt: skip
    name = [parts.place_link(row["service_point"]), *parts.hazards(row["hazards"])]
    next_step = [html.B(cells["next_step"]["first"]), " · ", cells["n_failures"]["first"]]
    return html.Li([
        html.Div(name),
        html.Div(cells["service_point"]["below"], className="below"),
        html.Div([drawn], className="drawn"),
        html.Div(_cost_words(row, shared) if cost is not None else "", className="below"),
        html.Div(next_step),
        html.Div(cells["next_step"]["below"], className="below"),
    ])  # fmt: skip


