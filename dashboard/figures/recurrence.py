"""How failures at the places of a class add up with the age of a place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import Floats, Row, band, column, word
from dashboard.theme import LIGHT

DAYS_A_YEAR = 365.25


def cumulative_figure(curve: Sequence[Row]) -> go.Figure:
    """Draw the mean number of failures of a place by its age, with its band.

    Parameters
    ----------
    curve : sequence of rows
        Of ``mean_cumulative_failures`` of one class, rising age_days; at least one row.
    """
    age = np.concatenate([[0.0], column(curve, "age_days")]) / DAYS_A_YEAR
    mean, lower, upper = (_from_zero(curve, name) for name in ("mean", "lower", "upper"))
    hover = ["", *(
        f"after {row['age_days'] / DAYS_A_YEAR:.1f} years: {words.number(row['mean'])} failures a "
        f"place ({words.spread(row['lower'], row['upper'])}), "
        f"{words.count(row['n_places'], 'place')} watched"
        for row in curve
    )]  # fmt: skip
    figure = go.Figure()
    figure.add_trace(band(age, lower, upper))
    figure.add_trace(go.Scatter(
        x=age, y=mean, mode="lines", line={"color": LIGHT["petrol"], "width": 2},
        hovertext=hover, hoverinfo="text",
    ))  # fmt: skip
    figure.update_layout(
        annotations=[word("mean of all places, band = 90 % range", age[-1], 0.0, "petrol",
                          xanchor="right", xshift=-8, yshift=14)],
        xaxis={"range": [0, float(age[-1])], "title": {"text": "years since a place's first hose"},
               "nticks": 6, "tickangle": 0},
        yaxis={"range": [0, 1.05 * float(upper[-1])], "nticks": 5,
               "title": {"text": "failures a place so far"}},
    )  # fmt: skip
    return figure


def _from_zero(curve: Sequence[Row], name: str) -> Floats:
    return np.concatenate([[0.0], column(curve, name)])
