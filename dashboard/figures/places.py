"""How few places make most of next year's cost."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard.theme import LIGHT


def concentration(
    n_places: Sequence[int], share: Sequence[float], half: int | None
) -> go.Figure:
    """Return the share of cost that the first n places make, with the half marked.

    Parameters
    ----------
    n_places : sequence of int
        1, 2, 3 ... places, dearest first.
    share : sequence of float
        0 to 1.
    half : int or None
        The number of places that make half.
    """
    x = np.concatenate([[0.0], np.asarray(n_places, dtype=float)])
    y = np.concatenate([[0.0], np.asarray(share, dtype=float)])
    figure = go.Figure()
    figure.add_scatter(
        x=x, y=y, mode="lines", line={"color": LIGHT["petrol"], "width": 2}, fill="tozeroy",
        fillcolor=LIGHT["petrol-soft"],
        hovertemplate="%{x:,} places make %{y:.0%}<extra></extra>",
    )  # fmt: skip
    if half is not None:
        figure.add_scatter(
            x=np.array([0.0, half, half]), y=np.array([0.5, 0.5, 0.0]), mode="lines",
            line={"color": LIGHT["muted"], "width": 1, "dash": "dot"}, hoverinfo="skip",
        )  # fmt: skip
    figure.update_yaxes(
        range=[0, 1.02], tickvals=np.array([0.0, 0.5, 1.0]), ticktext=["0", "half", "all"]
    )
    figure.update_xaxes(
        rangemode="tozero", nticks=4, tickformat=",", title={"text": "places, dearest first"}
    )
    figure.update_layout(margin={"l": 34, "r": 10, "t": 8, "b": 40})
    return figure
