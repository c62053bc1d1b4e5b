"""Failures that recur at the places of a class or group: how they add up, and whether faster."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.recurrence import DAYS_A_YEAR, cumulative_figure
from dashboard.queries.edition import Row
from dashboard.words import lives as words_lives


def block(application_class: str, curve: Sequence[Row], trend: Row | None, how: Any) -> Any:
    """Return curve and words of one class.

    Parameters
    ----------
    application_class : str
    curve : sequence of rows of ``mean_cumulative_failures``
    trend : row of ``recurrence_trends`` or None
    how : component
        Mark that opens the method.
    """
    title = f"How failures at places of {application_class} add up"
    if trend is None or not trend["n_failures"]:
        return parts.section(title, "", parts.empty("no failure on record at these places"))
    caption = "All places of the class, whatever construction sits there and whatever it fails by."
    return shown("life-cell-recurrence", title, caption, curve, trend, how)


def shown(name: str, title: str, caption: str, curve: Sequence[Row], trend: Row, how: Any) -> Any:
    """Return curve and words of places with failures.

    Parameters
    ----------
    name : str
        Id of the figure.
    title, caption : str
    curve, trend
        Rows of the places; the curve may be empty.
    how : component
        Mark that opens the method.
    """
    said = html.Ul([html.Li(text) for text in recurrence_words(curve, trend)], className="list")
    if not curve:
        return parts.section(title, caption, said, how=how)
    drawn = parts.graph(name, cumulative_figure(curve), 300,
                        "Mean number of failures of a place by the age of the place")
    return parts.section(
        title, caption, html.Div([drawn, said], className="columns wide-narrow"), how=how
    )


def recurrence_words(curve: Sequence[Row], trend: Row) -> list[Any]:
    """Return what is said of a curve and its trend, the trend first."""
    gap = trend["place_years"] / trend["n_failures"]
    counts = (
        f"{words.count(trend['n_failures'], 'failure')} in {words.number(trend['place_years'], 3)} "
        f"years at {words.count(trend['n_places'], 'place')}: one at a place in "
        f"{words.number(gap)} years."
    )
    return [
        html.Strong(trend_words(trend)), counts, *_after(curve), *_tests(trend),
        html.Span("A place that begins with a new hose waits for its first failure, so wear-out "
                  "alone makes the first years look better.", className="quiet-text"),
    ]  # fmt: skip


def trend_words(trend: Row) -> str:
    """Return whether failures come faster as places age, with the range that says so."""
    shape, lower, upper = (trend[f"shape{end}"] for end in ("", "_lower", "_upper"))
    if shape is None:
        return "Too few failures to tell whether they come faster as a place ages."
    power = (f"number grows as age to the power {words.number(shape)} "
             f"({words.spread(lower, upper)}); 1 is a steady rate")  # fmt: skip
    if lower is not None and lower > 1:
        return f"Failures come faster as a place ages: their {power}."
    if upper is not None and upper < 1:
        return f"Failures come more slowly as a place ages: their {power}."
    return f"No trend beyond chance: the {power}."


def _after(curve: Sequence[Row]) -> list[str]:
    """Return the number of failures after the last whole years that the curve reaches."""
    years = int(curve[-1]["age_days"] / DAYS_A_YEAR) if curve else 0
    if years < 1:
        return []
    row = [row for row in curve if row["age_days"] <= years * DAYS_A_YEAR]
    if not row:
        return []
    span = words.spread(row[-1]["lower"], row[-1]["upper"])
    return [f"After {words.count(years, 'year')} a place has had {words.number(row[-1]['mean'])} "
            f"failures ({span})."]  # fmt: skip


def _tests(trend: Row) -> list[str]:
    """Return the two tests against a steady rate."""
    laplace, total = trend["laplace_p_value"], trend["total_log_p_value"]
    if laplace is None or total is None:
        return []
    first, second = words_lives.p_value(laplace), words_lives.p_value(total)
    if first.partition(" (p ")[0] == second.partition(" (p ")[0]:
        said = first.partition(" (p ")[0]
        by = [words.kept("p " + test.partition(" (p ")[2].rstrip(")")) for test in (first, second)]
        return [f"Two tests against a steady rate: {said} (Laplace {by[0]}, MIL-HDBK-189 {by[1]})."]
    return [f"Two tests against a steady rate. Laplace: {first}. MIL-HDBK-189: {second}."]
