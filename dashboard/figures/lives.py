"""Curves of lives: still running by age, mechanisms competing, two kinds of hose compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import (
    Floats,
    Row,
    band,
    column,
    line,
    seen,
    spaced,
    upright,
    word,
    wrapped,
)
from dashboard.figures.weibull_plot import NAMES
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives

SHARES = {"range": [0, 1], "tickvals": [0, 0.25, 0.5, 0.75, 1],
          "ticktext": ["0 %", "25 %", "50 %", "75 %", "100 %"]}  # fmt: skip
LAYERS = ("petrol", "petrol-mid", "petrol-soft", "grey", "rule", "muted")
MOST_LAYERS = 5


def survival_figure(curve: Sequence[Row], fit: Row, spans: Sequence[Row] = ()) -> go.Figure:
    """Draw the share still running by age, pooled with its band, and by these hoses alone.

    Parameters
    ----------
    curve : sequence of rows
        Of ``life_curves``, rising age; at least one row.
    fit : row
        Of ``fits``: longest life, shape; its clock, days where it names none. By other clocks the
        main curve is that of these hoses alone.
    spans : sequence of rows
        Of ``free_survival``, rising start_days; drawn as steps, boxes where failures lie between
        two looks.
    """
    age, end = column(curve, "age"), _end(curve)
    clock = clocks.of(fit)
    name = NAMES[clocks.usual_estimate(clock)]
    figure = go.Figure()
    figure.add_trace(band(age, column(curve, "survival_lower"), column(curve, "survival_upper")))
    figure.add_trace(line(age, column(curve, "survival"), hover=_hover(curve, name, clock)))
    if spans:
        steps, edges = _steps(spans)
        figure.add_traces([steps, *edges])
    alone = column(curve, "survival_alone")
    figure.add_trace(line(age, alone, "ink", "dash", 1.4))
    said = [_beside(f"{name}, band = 90 % range", age, column(curve, "survival_upper"), 0.62,
                    "petrol", end)]  # fmt: skip
    if np.isfinite(alone).any():
        said.append(_beside("these hoses alone", age, column(curve, "survival_upper"), 0.36, "ink",
                            end))  # fmt: skip
    shapes: list[Row] = []
    longest = words_lives.longest(fit)
    if longest and longest < end:
        mark, text = upright(longest, f"oldest hose, {longest:,.0f} {clock.short}")
        if longest > (0.7 if clock is clocks.DAYS else 0.5) * end:
            text |= {"xanchor": "right", "xshift": -5}
        shapes, said = [mark], [*said, text]
    figure.update_layout(
        shapes=shapes, annotations=said, yaxis=SHARES,
        xaxis=_age_axis(np.array([0.0, end]), clock.axis),
    )
    return figure


def _steps(spans: Sequence[Row]) -> tuple[go.Scatter, list[go.Scatter]]:
    """Return the area that survival without a law may lie in, and its two edges."""
    closed = [row for row in spans if row["end_days"] is not None]
    corners = [(0.0, 1.0, 1.0)]
    for row in closed:
        before, after = row["survival_before"], row["survival_after"]
        corners += [(row["start_days"], before, before), (row["start_days"], before, after),
                    (row["end_days"], before, after), (row["end_days"], after, after)]
    left = corners[-1][1]
    # the share that no failure reached was seen running up to the start of the open span
    corners += [(row["start_days"], left, left) for row in spans[len(closed):]]
    at = seen(*(np.array(part) for part in zip(*corners, strict=True)))
    corners = [corners[i] for i in at]
    age, upper, lower = (np.array(part) for part in zip(*corners, strict=True))
    hover = [f"{words.days(a)}: {words.percent(low)}" + (
        f" to {words.percent(high)}" if high > low else "") + " still running, no law supposed"
        for a, high, low in corners]  # fmt: skip
    return band(age, lower, upper, "grey"), [
        line(age, edge, "muted", width=1.0, hover=hover) for edge in (upper, lower)]


def comparison_figure(curves: Mapping[str, Sequence[Row]]) -> go.Figure:
    """Draw two kinds of hose on one axis: the first solid in petrol, the second dashed in ink.

    Parameters
    ----------
    curves : mapping of name to rows of ``life_curves``
        One or two kinds, each with at least one row.
    """
    figure = go.Figure()
    said: list[Row] = []
    top = max(_end(curve) for curve in curves.values())
    looks = (("petrol", "solid"), ("ink", "dash"))
    longest = max(curves, key=lambda name: _still_running(curves[name], top))
    for (name, curve), (colour, dash) in zip(curves.items(), looks, strict=False):
        age, pooled = column(curve, "age"), column(curve, "survival")
        lower, upper = column(curve, "survival_lower"), column(curve, "survival_upper")
        if dash == "solid":
            figure.add_trace(band(age, lower, upper))
        else:
            for edge in (lower, upper):
                figure.add_trace(line(age, edge, "muted", "dot", 1.0))
        figure.add_trace(line(age, pooled, colour, dash, hover=_hover(curve, name)))
        # Above the longer-lived kind and below the other one there is always room for its name.
        said.append(_beside(_short(name), age, upper, 0.5, colour, top) if name == longest
                    else _under(_short(name), age, lower, 0.2, colour, top))  # fmt: skip
    figure.update_layout(annotations=said, xaxis=_age_axis(np.array([0.0, top])), yaxis=SHARES)
    return figure


def incidence_figure(rows: Sequence[Row]) -> go.Figure:
    """Draw the chance of having failed by each mechanism, the others competing, stacked.

    Parameters
    ----------
    rows : sequence of rows
        Of ``cumulative_incidence`` of one cell: mechanism, age_days, probability.

    Notes
    -----
    The five mechanisms with the greatest final chance have a layer each; the rest share one.
    The white above the top layer is the share still running.
    """
    names = sorted({row["mechanism"] for row in rows})
    ages = np.unique(column(rows, "age_days"))
    layers = {name: _on(ages, [r for r in rows if r["mechanism"] == name]) for name in names}
    order = sorted(names, key=lambda name: (-layers[name][-1], name))
    shown = {words.mechanism(name): layers[name] for name in order[:MOST_LAYERS]}
    rest = order[MOST_LAYERS:]
    if rest:
        shown[words.count(len(rest), "other")] = np.sum([layers[name] for name in rest], axis=0)
    figure = go.Figure()
    base = np.zeros_like(ages)
    middles = []
    for (name, layer), colour in zip(shown.items(), LAYERS, strict=False):
        top = np.minimum(base + layer, 1.0)
        figure.add_trace(band(ages, base, top, colour))
        hover = [f"{words.days(a)}: {words.percent(v)} failed by {name}"
                 for a, v in zip(ages, layer, strict=True)]  # fmt: skip
        figure.add_trace(line(ages, top, "paper", width=1.2, hover=hover))
        middles.append(float((base[-1] + top[-1]) / 2))
        base = top
    high = max(0.1, float(np.ceil(base[-1] * 10) / 10))
    said = [word(wrapped(f"{name}, {words.percent(layer[-1])}"), 1.0, height, "ink", xref="paper",
                 xshift=6, align="left")
            for (name, layer), height in zip(shown.items(), spaced(middles, high * 0.125, high),
                                             strict=True)]  # fmt: skip
    step = 0.1 if high <= 0.5 else 0.2
    ticks = np.arange(0, high + step / 2, step)
    figure.update_layout(
        annotations=said, margin={"l": 48, "r": 140, "t": 14, "b": 34}, xaxis=_age_axis(ages),
        yaxis={"range": [0, high], "tickvals": ticks,
               "ticktext": [f"{100 * t:.0f} %" for t in ticks]},
    )  # fmt: skip
    return figure


def _on(ages: Floats, rows: Sequence[Row]) -> Floats:
    """Return a mechanism's chances at the ages of the figure; after its last age they stay."""
    ordered = sorted(rows, key=lambda row: row["age_days"])
    return np.interp(ages, column(ordered, "age_days"), column(ordered, "probability"), left=0.0)


def _hover(curve: Sequence[Row], name: str, clock: clocks.Clock = clocks.DAYS) -> list[str]:
    return [
        f"{clocks.age(row['age'], clock)}: {words.percent(row['survival'])} still running "
        f"({words.percent_spread(row['survival_lower'], row['survival_upper'])}), {name}"
        for row in curve
    ]


def _age_axis(age: Floats, title: str = clocks.DAYS.axis) -> Row:
    return {"range": [0, float(age.max(initial=1.0))], "title": {"text": title},
            "tickformat": ",.0f", "nticks": 5, "tickangle": 0}  # fmt: skip


def _label_index(share: Floats, height: float) -> int:
    """Return where a falling curve first goes below a height; its end when it never does."""
    below = np.flatnonzero(share <= height)
    return int(below[0]) if below.size else len(share) - 1


def _end(curve: Sequence[Row]) -> float:
    """Return the age to show a curve to: where nearly all have failed, or its last age."""
    age = column(curve, "age")
    gone = age[column(curve, "survival_upper") < 0.02]
    return float(gone[0]) if gone.size else float(age.max())


def _beside(text: str, age: Floats, edge: Floats, height: float, colour: str,
            most: float) -> Row:  # fmt: skip
    """Return words to the right of an edge, or inside the figure when the edge lies far right."""
    at = age[_label_index(edge, height)]
    if at > 0.68 * most:
        return word(text, most, float(edge[_label_index(edge, height)]), colour, xanchor="right",
                    yshift=14)  # fmt: skip
    return word(text, at, height, colour, xshift=10, yshift=4)


def _still_running(curve: Sequence[Row], top: float) -> float:
    """Return the mean share still running up to an age."""
    ages = np.linspace(0.0, top, 50)
    share = np.interp(ages, column(curve, "age"), column(curve, "survival"))
    return float(share.mean())


def _under(text: str, age: Floats, edge: Floats, height: float, colour: str,
           most: float) -> Row:  # fmt: skip
    """Return words to the left of an edge, or at the left end when the edge lies far left."""
    at = age[_label_index(edge, height)]
    if at < 0.3 * most:
        return word(text, 0.0, 0.0, colour, xshift=6, yshift=9)
    return word(text, at, height, colour, xanchor="right", xshift=-8)


def _short(name: str, most: int = 34) -> str:
    return name if len(name) <= most else name[: most - 1] + "…"


