"""The evidence on the page of one place: hoses, survival, like places, rows as loaded."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, timeline, words
from dashboard.figures.axis import Axis, ratio_axis
from dashboard.figures.place import survival_here
from dashboard.queries.edition import Row

"""Dots in the strip; more are thinned evenly, the caption still says how many there are."""

LEAST_EXPECTED = 0.2
"""Fewer failures expected than this make a ratio of counts that means nothing."""


def hose_table(stays: Sequence[Row], currency: str) -> html.Details:
    """Return the hoses of the timeline as a table, folded away."""
    body = []
    for row in reversed(stays):
        ended = words.reason(row["removal_reason"])
        if row["exclusion"]:
            ended += f"; not used in fits: {row['exclusion']}"
        body.append([
            row["hose_id"], row["construction"], words.date(row["installed_on"]),
            words.date(row["removed_on"]) if row["removed_on"] else "in service",
            words.days(timeline.stay_days(row)), ended,
            words.mechanism(row["mechanism"]) if row["kind"] != "suspended" else "no failure",
            words.money(row["cost"], currency) if row["cost"] else "not recorded",
        ])  # fmt: skip
    head = ["Hose", "Construction", "In", "Out", "Here for", "How it ended", "Mechanism",
            "Cost with lost production"]
    return html.Details(
        [html.Summary("The same as a table"), parts.table(head, body)], className="fold"
    )


def survival(
    place: Row, curve: Sequence[Row], own: Sequence[Row], stays: Sequence[Row]
) -> Any:
    """Return the figure of survival here and at like places."""
    failed = [r["age_low_days"] for r in stays if r["kind"] == "failed" and r["age_low_days"]]
    figure = survival_here(
        curve, own, age_now=place["age_days"], failed_at=failed,
        is_prone=bool(place["is_failure_prone"]),
    )  # fmt: skip
    label = "Share of hoses still running by days in service, at like places and at this place"
    return parts.graph("place-survival", figure, 270, label)


def strip(place: Row, peers: Sequence[Row]) -> html.Div:
    """Return the rates of like places as dots, this place above them with its range.

    Parameters
    ----------
    place : row
        Failures seen and expected, relative rate with its range.
    peers : sequence of rows
        Other places of the class by rising relative rate; each knows how many there are in all.
    """
    axis = ratio_axis(5.0)
    dots = [
        html.Span(className="peer", title=f"{row['service_point']}: {row['relative_rate']:.2g}×",
                  style={"left": f"{axis.position(row['relative_rate']):.2f}%",
                         "top": f"{34 + 8 * math.sin(2.4 * i):.1f}px"})
        for i, row in enumerate(peers)
    ]  # fmt: skip
    rate = place["relative_rate"]
    span = words.spread(place["relative_rate_lower"], place["relative_rate_upper"])
    label = f"this place {words.number(rate)} times as fast as like places, 90 % range {span}"
    own = parts.interval(
        rate, place["relative_rate_lower"], place["relative_rate_upper"], axis, label=label,
        n_failures=place["n_failures"] or 0, attention=bool(place["is_failure_prone"]),
    )  # fmt: skip
    scale = parts.axis_header(axis, lambda tick: f"{tick:g}×")
    said = [html.P(label[0].upper() + label[1:] + ".", className="strip-words"),
            html.P(standing(place, peers), className="strip-words quiet-text")]  # fmt: skip
    drawn = html.Div([*dots, _as_seen(place, axis)], className="peers")
    return html.Div([*said, own, drawn, scale], className="strip")


def standing(place: Row, peers: Sequence[Row]) -> str:
    """Return where the place stands among its peers, and what the counts alone would say.

    Examples
    --------
    >>> place = {"relative_rate": 2.5, "observed_failures": 18, "failures_expected_so_far": 4.2}
    >>> standing(place, [{"n_slower": 2, "n_others": 3}])
    'Faster than 2 of 3 like places. By the counts alone 4.3 times (diamond).'
    """
    seen = ratio_seen(place)
    said = "".join(
        f"Faster than {row['n_slower']:,} of {words.count(row['n_others'], 'like place')}. "
        for row in peers[:1])
    if seen is None:
        return said + "Too little expected so far for a ratio of the counts alone."
    return said + f"By the counts alone {words.number(seen)} times (diamond)."


def ratio_seen(place: Row) -> float | None:
    """Return failures seen over expected, before it is drawn towards 1; None without either."""
    seen, expected = place["observed_failures"], place["failures_expected_so_far"]
    return seen / expected if seen is not None and (expected or 0) >= LEAST_EXPECTED else None


def _as_seen(place: Row, axis: Axis) -> html.Span | None:
    """Return the open diamond of the ratio as counted."""
    ratio = ratio_seen(place)
    if ratio is None:
        return None
    colour = "rust" if place["is_failure_prone"] else "ink"
    return html.Span(title=f"as counted: {words.number(ratio)} times", style={
        "position": "absolute", "left": f"{axis.position(ratio):.2f}%", "top": "5px",
        "height": "8px", "width": "8px", "marginLeft": "-4px", "transform": "rotate(45deg)",
        "border": f"1.5px solid var(--{colour})",
    })  # fmt: skip


def mechanism_bars(rows: Sequence[Row]) -> Any:
    """Return how the failures here ended, as bars of equal unit."""
    most = max((row["n"] for row in rows), default=0)
    if not most:
        return parts.empty("no failure on record here")
    return html.Ul([
        html.Li([
            html.Span(words.mechanism(row["mechanism"]), className="bar-name"),
            html.Span(_bar(row["n"] / most)),
            html.Span(f"{row['n']:,}", className="bar-count"),
        ]) for row in rows
    ], className="bars")  # fmt: skip


def _bar(share: float) -> html.Span:
    return html.Span(className="bar-fill", style={"width": f"{100 * share:.1f}%"})


def line_table(rows: Sequence[Row]) -> html.Table:
    """Return the other places of the line against like places of their class."""
    axis = ratio_axis(5.0)
    body = []
    for row in rows:
        rate = row["relative_rate"]
        lower, upper = row["relative_rate_lower"], row["relative_rate_upper"]
        label = f"{words.number(rate)} times as fast as like places"
        label += f", 90 % range {words.spread(lower, upper)}"
        body.append([
            [parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
             html.Div(row["application_class"], className="below")],
            parts.interval(rate, lower, upper, axis, label=label, n_failures=row["n_failures"] or 0,
                           attention=bool(row["is_failure_prone"]), absent="no hose to judge by"),
            words.evidence(row["n_failures"] or 0, row["n_suspensions"] or 0),
        ])  # fmt: skip
    scale = parts.axis_header(axis, lambda tick: f"{tick:g}×", "Against like places")
    head = ["Place", scale, "Hoses"]
    return parts.table(head, body, "on-line")


def rows_table(rows: Sequence[Row]) -> html.Table:
    """Return rows as loaded: date, log, file and row, what became of it, its cells."""
    body = [
        [str(row["happened_on"] or "undated"), row["log"].replace("_", " "),
         f"{row['source_file']}, row {row['source_row']:,}",
         words.FATES.get(row["fate"], row["fate"]), _cells(row["cells"])]
        for row in rows
    ]  # fmt: skip
    return parts.table(["Date", "Log", "File and row", "Fate", "Cells as loaded"], body, "loaded")


def _cells(text: str | None) -> list[Any]:
    """Return the cells of a loaded row as names and values; never as markup."""
    try:
        cells = json.loads(text or "{}")
    except ValueError:
        return [str(text)]
    if not isinstance(cells, dict):
        return [str(cells)]
    out: list[Any] = []
    for name, value in cells.items():
        if value in (None, ""):
            continue
        if out:
            out.append(" · ")
        out += [html.Span(f"{name} ", className="quiet-text"), f"{value}"]
    return out or ["no cell filled"]
