"""The Weibull probability plot: log age against ln(-ln(1 - F)), where Weibull is straight."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import (
    Floats,
    Row,
    band,
    column,
    line,
    log_ticks,
    seen,
    upright,
    word,
)
from dashboard.theme import LIGHT
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives

PERCENTS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 40, 63.2, 80, 95, 99)
TOP = 0.99
NAMES = {"pooled": "pooled", "alone": "these hoses alone"}
"""What stands beside a curve of each estimate."""
MANY = 60
"""From so many points on they are drawn smaller."""


def stretched(survival: Floats) -> Floats:
    """Return ln(-ln S) of shares still running; at 0 and 1 there is nothing to draw.

    Examples
    --------
    >>> stretched(np.array([0.9, 1.0])).round(4)
    array([-2.2504,     nan])
    """
    inside = (survival > 0) & (survival < 1)
    out = np.full(survival.shape, np.nan)
    out[inside] = np.log(-np.log(survival[inside]))
    return out


def height(failed: float) -> float:
    """Return where a share failed stands on the axis.

    Examples
    --------
    >>> round(height(0.632120558828), 9) + 0.0
    0.0
    """
    return float(stretched(np.array([1.0 - failed]))[0])


def weibull_plot(points: Sequence[Row], curve: Sequence[Row], fit: Row) -> go.Figure:
    """Draw plotted failures with the pooled curve, its band, and the stand-alone line.

    Parameters
    ----------
    points : sequence of rows
        Of ``plot_points``: age, failure_probability (0..1), kind. May be empty.
    curve : sequence of rows
        Of ``life_curves``, rising age; age 0 has no place here. Must hold one row above 0.
    fit : row
        Of ``fits``: counts, longest life, shape; its clock, days where it names none. By other
        clocks the main curve is that of these hoses alone.

    Returns
    -------
    Figure
        Beyond the longest life seen the pooled line is dotted: no evidence there.
    """
    clock = clocks.of(fit)
    curve = [row for row in curve if row["age"] > 0]
    age = column(curve, "age")
    failed = {name: stretched(column(curve, name)) for name in curve[0] if "survival" in name}
    low, high = _ages(points, age, 1 - column(curve, "survival"))
    bottom, top = height(_least(points)), height(TOP)
    figure = go.Figure()
    figure.add_trace(band(age, failed["survival_upper"], failed["survival_lower"]))
    for name in ("survival_alone_lower", "survival_alone_upper"):
        figure.add_trace(line(age, failed[name], "muted", "dot", 1.0))
    _main(figure, curve, failed["survival"], fit)
    figure.add_trace(line(age, failed["survival_alone"], "ink", "dash", 1.4))
    _points(figure, points, clock)
    shapes, said = _labels(age, failed, fit, (low, high), (bottom, top))
    ticks, texts = log_ticks(low, high)
    marks = [p for p in PERCENTS if bottom <= height(p / 100) <= top]
    figure.update_layout(
        shapes=shapes, annotations=said,
        xaxis={"type": "log", "range": [np.log10(low), np.log10(high)], "tickvals": ticks,
               "ticktext": texts, "title": {"text": f"age in {clock.many} (log scale)"}},
        yaxis={"range": [bottom, top], "tickvals": [height(p / 100) for p in marks],
               "ticktext": [f"{p:g} %" for p in marks],
               "title": {"text": "failed by this age"}},
    )  # fmt: skip
    return figure


def _least(points: Sequence[Row]) -> float:
    """Return the lowest share on the axis: half the first point, at least one in a thousand."""
    lowest = min((row["failure_probability"] for row in points), default=0.02)
    return float(min(0.05, max(0.001, 0.5 * lowest)))


def _ages(points: Sequence[Row], age: Floats, failed: Floats) -> tuple[float, float]:
    """Return the ages to show: where the curve or a point lies between least and most share."""
    shown = age[(failed >= _least(points)) & (failed <= TOP) & (age > 0)]
    known = [*shown, *(row["age"] for row in points if row["age"] > 0)]
    if not known:
        known = [float(age[age > 0].min(initial=1.0)), float(age.max(initial=10.0))]
    return 0.7 * min(known), 1.25 * max(known)


def _main(figure: go.Figure, curve: Sequence[Row], failed: Floats, fit: Row) -> None:
    age, clock = column(curve, "age"), clocks.of(fit)
    longest, name = words_lives.longest(fit), NAMES[clocks.usual_estimate(clock)]
    hover = [
        f"{clocks.age(row['age'], clock)}: {words.percent(1 - row['survival'])} failed "
        f"({words.percent(1 - row['survival_upper'])} to "
        f"{words.percent(1 - row['survival_lower'])}), {name}"
        if None not in (row["survival"], row["survival_lower"], row["survival_upper"]) else ""
        for row in curve
    ]  # fmt: skip
    end = np.inf if longest is None else longest
    last = int(np.searchsorted(age, end, side="right"))
    figure.add_trace(line(age[: last + 1], failed[: last + 1], hover=hover[: last + 1]))
    figure.add_trace(line(age[last:], failed[last:], dash="dot", hover=hover[last:]))


def _points(figure: go.Figure, points: Sequence[Row], clock: clocks.Clock) -> None:
    for kind, symbol, said in (("failed", "circle", "failed in service"),
                               ("interval", "circle-open", "found failed")):  # fmt: skip
        rows = [row for row in points if row["kind"] == kind and row["age"] > 0]
        if rows:
            places = stretched(1 - column(rows, "failure_probability"))
            rows = [rows[i] for i in seen(np.log(column(rows, "age")), places)]
        shares = column(rows, "failure_probability")
        size = 8 if len(points) < MANY else 5.5
        figure.add_trace(go.Scatter(
            x=column(rows, "age"), y=stretched(1 - shares), mode="markers",
            marker={"symbol": symbol, "size": size, "color": LIGHT["ink"],
                    "line": {"width": 1.4, "color": LIGHT["ink"]}},
            hovertext=[f"{said} at {clocks.age(row['age'], clock)}, plotted at "
                       f"{words.percent(row['failure_probability'])}" for row in rows],
            hoverinfo="text", cliponaxis=False,
        ))  # fmt: skip


def _labels(age: Floats, failed: dict[str, Floats], fit: Row, ages: tuple[float, float],
            shares: tuple[float, float]) -> tuple[list[Row], list[Row]]:  # fmt: skip
    low, high = ages
    shapes: list[Row] = []
    said: list[Row] = []
    clock, longest = clocks.of(fit), words_lives.longest(fit)
    if longest and low < longest < high:
        mark, text = upright(longest, f"oldest hose, {longest:,.0f} {clock.short}", is_log=True)
        room = np.log(high / longest) / np.log(high / low)
        if room < (0.25 if clock is clocks.DAYS else 0.4):
            text |= {"xanchor": "right", "xshift": -5}
        text |= {"y": 0.0, "yanchor": "bottom"}
        shapes.append(mark)
        said.append(text)
    wide = shares[1] - shares[0]
    edge = failed["survival_lower"]
    at = _age_at(age, edge, shares[0] + 0.8 * wide)
    if at:
        name = NAMES[clocks.usual_estimate(clock)]
        gap = " " if clock is clocks.DAYS else "\n"  # longer words, which a phone has no room for
        said.append(word(f"{name},{gap}band = 90 % range", np.log10(at), shares[0] + 0.8 * wide,
                         "petrol", xanchor="right", xshift=-10, align="right"))  # fmt: skip
    if fit["shape"] is not None:
        at = _age_at(age, failed["survival_alone"], shares[0] + 0.22 * wide)
        right = _age_at(age, failed["survival_upper"], shares[0] + 0.22 * wide)
        if at:
            said.append(word("these hoses alone,\ndotted = 90 %",
                             np.log10(max(at, right or at)), shares[0] + 0.22 * wide,
                             "ink", xshift=14, align="left"))  # fmt: skip
    return shapes, said


def _age_at(age: Floats, height: Floats, wanted: float) -> float | None:
    """Return the age at which a rising line passes a height, or None."""
    known = np.isfinite(height) & (age > 0)
    if known.sum() < 2 or not height[known][0] <= wanted <= height[known][-1]:
        return None
    return float(np.exp(np.interp(wanted, height[known], np.log(age[known]))))
