"""Demand of one part against the stock to hold."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import Row, upright, word
from dashboard.theme import LIGHT

SPANS = (3, 6, 12)


def demand_figure(part: Row) -> go.Figure:
    """Draw the demand of a part over 3, 6 and 12 months, and what to hold for each.

    Parameters
    ----------
    part : row
        Of ``spares``: mean, lower, upper and stock by span; on_hand, on_order (None: no stock
        log). Spans without a mean are left out.

    Returns
    -------
    Figure
        Dot = expected, bar = 90 % range, upright mark = stock to hold, dotted = stock there is.
    """
    known = [span for span in SPANS if part[f"mean_{span}_months"] is not None]
    figure = go.Figure()
    said: list[Row] = []
    ends = [1.0]
    for height, span in enumerate(reversed(known)):
        mean, lower, upper, stock = (
            part[f"{kind}_{span}_months"] for kind in ("mean", "lower", "upper", "stock")
        )
        ends += [v for v in (mean, upper, stock) if v is not None]
        text = f"{span} months: {words.number(mean)} hoses ({words.spread(lower, upper)})"
        if lower is not None and upper is not None:
            figure.add_trace(go.Scatter(
                x=np.array([lower, upper]), y=np.array([height, height]), mode="lines",
                line={"color": LIGHT["petrol-mid"], "width": 3}, hoverinfo="skip",
            ))  # fmt: skip
        figure.add_trace(go.Scatter(
            x=np.array([mean]), y=np.array([height]), mode="markers", hovertext=[text],
            hoverinfo="text", marker={"size": 11, "color": LIGHT["petrol"]},
        ))  # fmt: skip
        if stock is not None:
            figure.add_trace(go.Scatter(
                x=np.array([stock, stock]), y=np.array([height - 0.26, height + 0.26]),
                mode="lines", line={"color": LIGHT["ink"], "width": 2.5},
                hovertext=[f"hold {stock} for {span} months"] * 2, hoverinfo="text",
            ))  # fmt: skip
            said.append(word(f"hold {stock}", stock, height + 0.26, "ink", yshift=8,
                             xanchor="center"))  # fmt: skip
    shapes = []
    if part["on_hand"] is not None:
        there = part["on_hand"] + (part["on_order"] or 0)
        ends.append(there)
        mark, text_there = upright(there, f"{there} here or on order")
        text_there |= {"yanchor": "bottom", "xshift": 0, "xanchor": "center"}
        if there < 0.25 * max(ends):
            text_there |= {"xanchor": "left"}
        shapes, said = [mark], [*said, text_there]
    figure.update_layout(
        shapes=shapes, annotations=said, margin={"l": 76, "r": 24, "t": 30, "b": 40},
        xaxis={"range": [-0.02 * max(ends), 1.08 * max(ends)], "nticks": 7, "tickformat": ",d"
               if max(ends) >= 5 else "", "showgrid": True, "title": {"text": "hoses"}},
        yaxis={"range": [-0.6, len(known) - 0.2], "tickvals": list(range(len(known))),
               "ticktext": [f"{span} months" for span in reversed(known)], "showgrid": False},
    )  # fmt: skip
    return figure
