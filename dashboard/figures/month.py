"""Cost by month: what happened, and the twelve months ahead."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard.theme import LIGHT


def cost_by_month(
    past_months: Sequence[dt.date],
    past_cost: Sequence[float],
    ahead_months: Sequence[dt.date],
    ahead_mean: Sequence[float],
    ahead_lower: Sequence[float],
    ahead_upper: Sequence[float],
    as_of: dt.date,
    factor: float,
    hover: str,
) -> go.Figure:
    """Return dots for the past months and a line with its band for the months ahead.

    Parameters
    ----------
    past_months, ahead_months : sequence of date
        First days of months; drawn in the middle of each month.
    past_cost, ahead_mean, ahead_lower, ahead_upper : sequence of float
        In the reporting currency.
    as_of : date
        Data date, drawn as a dotted line.
    factor : float
        1 or 1000: the unit of the axis.
    hover : str
        Pattern of a value in the note under the pointer.
    """
    figure = go.Figure()
    past_x, ahead_x = _middles(past_months), _middles(ahead_months)
    past = np.asarray(past_cost, dtype=float) / factor
    mean, lower, upper = (
        np.asarray(v, dtype=float) / factor for v in (ahead_mean, ahead_lower, ahead_upper)
    )
    figure.add_bar(
        x=past_x, y=past, width=np.full(len(past_x), 1.2 * 86_400_000.0),
        marker={"color": LIGHT["petrol-mid"], "line": {"width": 0}}, hoverinfo="skip",
    )  # fmt: skip
    figure.add_scatter(
        x=past_x, y=past, mode="markers", marker={"size": 8, "color": LIGHT["ink"]},
        hovertemplate=hover + "<extra></extra>",
    )  # fmt: skip
    if len(ahead_x):
        figure.add_scatter(
            x=np.concatenate([ahead_x, ahead_x[::-1]]), y=np.concatenate([upper, lower[::-1]]),
            fill="toself", mode="lines", line={"width": 0}, fillcolor=LIGHT["petrol-soft"],
            hoverinfo="skip",
        )  # fmt: skip
        figure.add_scatter(
            x=ahead_x, y=mean, mode="lines+markers", line={"color": LIGHT["petrol"], "width": 2},
            marker={"size": 5}, customdata=np.column_stack([lower, upper]),
            hovertemplate=hover + ", 90 % range %{customdata[0]:,.3~g} to "
            "%{customdata[1]:,.3~g}<extra></extra>",
        )  # fmt: skip
    _data_date(figure, as_of)
    figure.update_layout(margin={"l": 44, "r": 8, "t": 26, "b": 28}, bargap=0)
    figure.update_yaxes(rangemode="tozero", nticks=5, tickformat=",")
    months = [*past_months, *ahead_months]
    end = np.datetime64(max(months)) + np.timedelta64(31, "D")
    figure.update_xaxes(
        tickformat="%b\n%Y", tickangle=0, range=[min(months).isoformat(), str(end)],
    )  # fmt: skip
    return figure


def _middles(months: Sequence[dt.date]) -> np.ndarray:
    """Return the middle of each month."""
    return np.array([np.datetime64(m) for m in months], dtype="datetime64[ms]") + np.timedelta64(
        14, "D"
    )


def _data_date(figure: go.Figure, as_of: dt.date) -> None:
    """Draw the line between what happened and what is expected."""
    at = as_of.isoformat()
    figure.add_shape(
        type="line", x0=at, x1=at, y0=0, y1=1.06, yref="paper",
        line={"color": LIGHT["muted"], "width": 1, "dash": "dot"},
    )  # fmt: skip
    for words, side, shift, colour in (
        ("what happened", "right", -8, LIGHT["ink"]),
        ("expected", "left", 8, LIGHT["petrol"]),
    ):
        figure.add_annotation(
            x=at, y=1.1, yref="paper", text=words, showarrow=False, xanchor=side, xshift=shift,
            font={"size": 12.5, "color": colour},
        )  # fmt: skip
