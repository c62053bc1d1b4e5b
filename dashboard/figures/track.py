"""Earlier forecasts of failures with their ranges, and what came."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import Row, column
from dashboard.theme import LIGHT

BAR_MS = 16.0 * 86_400_000.0
"""Width of a bar in milliseconds: half a month, so that neighbours stay apart."""


def forecasts_and_outcomes(rows: Sequence[Row]) -> go.Figure:
    """Draw each forecast as two bars, for half and for 90 % of what could come, and the outcome.

    Parameters
    ----------
    rows : sequence of rows
        Of ``track_forecasts`` for one group and one span, oldest first; at least one.

    Notes
    -----
    An outcome outside its range is rust and has another shape, so that colour is not alone.
    """
    at = np.array([np.datetime64(row["until"]) for row in rows], dtype="datetime64[ms]")
    figure = go.Figure()
    for low, high, colour in (("lower", "upper", "petrol-soft"),
                              ("lower_50", "upper_50", "petrol-mid")):
        # Half a count beyond the last whole number inside, so that a single number shows.
        bottom = column(rows, low) - 0.5
        figure.add_bar(
            x=at, base=bottom, y=column(rows, high) + 0.5 - bottom,
            width=np.full(len(rows), BAR_MS), hoverinfo="skip",
            marker={"color": LIGHT[colour], "line": {"width": 0}},
        )  # fmt: skip
    figure.add_trace(go.Scatter(
        x=at, y=column(rows, "mean"), mode="markers", hoverinfo="skip",
        marker={"symbol": "line-ew", "size": 11, "line": {"width": 2, "color": LIGHT["petrol"]}},
    ))  # fmt: skip
    figure.add_trace(go.Scatter(
        x=at, y=column(rows, "last_year_mean"), mode="markers", hoverinfo="skip",
        marker={"symbol": "circle-open", "size": 6,
                "line": {"width": 1.2, "color": LIGHT["muted"]}, "color": LIGHT["muted"]},
    ))  # fmt: skip
    for inside, colour, symbol in ((True, "ink", "circle"), (False, "rust", "diamond")):
        shown = [row for row in rows if row["observed"] is not None
                 and is_inside(row) is inside]
        figure.add_trace(go.Scatter(
            x=np.array([np.datetime64(row["until"]) for row in shown], dtype="datetime64[ms]"),
            y=column(shown, "observed"), mode="markers",
            marker={"color": LIGHT[colour], "symbol": symbol, "size": 8 if inside else 10},
            hovertext=[_hover(row) for row in shown], hoverinfo="text",
        ))  # fmt: skip
    figure.update_layout(margin={"l": 40, "r": 8, "t": 10, "b": 30}, barmode="overlay")
    figure.update_yaxes(range=_range(rows), nticks=6, tickformat=",")
    figure.update_xaxes(tickformat="%b\n%Y", tickangle=0, nticks=9)
    return figure


def _range(rows: Sequence[Row]) -> list[float]:
    """Return the ends of the vertical axis: all ranges and outcomes, not down to 0 from afar."""
    values = [row[name] for row in rows for name in ("lower", "upper", "observed", "last_year_mean")
              if row[name] is not None]
    low, high = float(min(values)), float(max(values))
    gap = 0.08 * (high - low) + 1.0
    return [low - gap if low > 0.4 * high else -0.5, high + gap]


def is_inside(row: Row) -> bool:
    """Tell whether the outcome of a forecast fell inside its printed 90 % range."""
    return bool(row["lower"] <= row["observed"] <= row["upper"])


def _hover(row: Row) -> str:
    return (f"until {words.date(row['until'])}: {words.count(row['observed'], 'failure')}, "
            f"forecast {words.number(row['mean'])} ({row['lower']:,} to {row['upper']:,}) from "
            f"{words.date(row['as_of'])}")  # fmt: skip
