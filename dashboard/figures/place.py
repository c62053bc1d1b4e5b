"""How long hoses last at one place and at like places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import Floats, Row, band, column, line, percent_ticks
from dashboard.theme import LIGHT

GONE = 0.015
"""Figures end where fewer than this share still run."""
NEAR_THE_AXIS = 0.3
"""Part of the figure in which a curve leaves no room for its name."""


def survival_here(
    like: Sequence[Row], here: Sequence[Row], *, age_now: float | None,
    failed_at: Sequence[float], is_prone: bool,
) -> go.Figure:  # fmt: skip
    """Return survival of like places with its band, of this place, and the failures seen here.

    Parameters
    ----------
    like : sequence of rows
        age_days, survival (0 to 1) and its 90 % range, by rising age; at least one row.
    here : sequence of rows
        The same at this place's own rate; empty where no rate is known.
    age_now : float or None
        Age of the hose in service, days.
    failed_at : sequence of float
        Ages at which hoses failed here, days.
    is_prone : bool
        Fails faster than its peers: drawn in rust.
    """
    shade = "rust" if is_prone else "ink"
    end = max(_end(like), _end(here), age_now or 0.0, max(failed_at, default=0.0))
    days, all_alive = column(like, "age_days"), column(like, "survival")
    own_days, own = column(here, "age_days"), column(here, "survival")
    figure = go.Figure()
    figure.add_trace(band(days, column(like, "survival_lower"), column(like, "survival_upper")))
    figure.add_trace(line(days, all_alive, hover=_hover(like, "like places")))
    for edge in ("survival_lower", "survival_upper"):
        figure.add_trace(line(own_days, column(here, edge), shade, "dot", 1.0))
    figure.add_trace(line(own_days, own, shade, "dash", hover=_hover(here, "here")))
    if len(failed_at):
        marks = np.sort(np.asarray(failed_at, dtype=float))
        at = (own_days, own) if len(here) else (days, all_alive)
        figure.add_scatter(
            x=marks, y=np.interp(marks, *at), mode="markers",
            hovertemplate="failed here at %{x:,.0f} days<extra></extra>",
            marker={"symbol": "line-ns", "size": 13, "line": {"width": 2, "color": LIGHT[shade]}},
        )  # fmt: skip
    _labels(figure, (days, all_alive), (own_days, own), LIGHT[shade], end)
    if age_now is not None:
        _hose_now(figure, age_now)
    figure.update_yaxes(range=[0, 1.04], **percent_ticks(np.linspace(0.0, 1.0, 5)))
    figure.update_xaxes(
        range=[0, end], nticks=6, tickformat=",", title={"text": "days in service"}
    )
    figure.update_layout(margin={"l": 46, "r": 10, "t": 22, "b": 40})
    return figure


def _end(curve: Sequence[Row]) -> float:
    """Return the age by which nearly all have failed, or the last of the curve."""
    if not curve:
        return 0.0
    gone = [row["age_days"] for row in curve if row["survival_upper"] < GONE]
    return float(gone[0] if gone else curve[-1]["age_days"])


def _hover(curve: Sequence[Row], name: str) -> list[str]:
    return [
        f"{name}: {words.percent(row['survival'])} still run after {words.days(row['age_days'])} "
        f"({words.percent_spread(row['survival_lower'], row['survival_upper'])})"
        for row in curve
    ]


def _labels(
    figure: go.Figure, like: tuple[Floats, Floats], here: tuple[Floats, Floats], colour: str,
    end: float,
) -> None:  # fmt: skip
    """Name each curve beside it, the upper one above, the lower one below."""
    shared = np.interp(here[0], *like)
    own_is_lower = not here[0].size or float(here[1].mean()) < float(shared.mean())
    for (days, curve), text, shade, above in (
        (like, "like places", LIGHT["petrol"], own_is_lower),
        (here, "this place", colour, not own_is_lower),
    ):
        if not days.size:
            continue
        level = 0.62 if above else 0.4
        at = int(np.argmin(np.abs(curve - level)))
        if not above and days[at] < NEAR_THE_AXIS * end:
            # No room to the left of the curve: the corner under it is free.
            figure.add_annotation(x=0, y=0.07, text=text, showarrow=False, xanchor="left",
                                  xshift=6, font={"color": shade, "size": 12.5},
                                  bgcolor=LIGHT["paper"])  # fmt: skip
            continue
        figure.add_annotation(
            x=days[at], y=curve[at], text=text, showarrow=False,
            font={"color": shade, "size": 12.5},
            xanchor="left" if above else "right", xshift=14 if above else -10,
            yshift=8 if above else -8,
        )  # fmt: skip


def _hose_now(figure: go.Figure, age_now: float) -> None:
    figure.add_shape(
        type="line", x0=age_now, x1=age_now, y0=0, y1=1.04,
        line={"color": LIGHT["ink"], "width": 1, "dash": "dot"},
    )  # fmt: skip
    figure.add_annotation(
        x=age_now, y=1.04, text="hose now", showarrow=False, yshift=9, font={"size": 12.5}
    )
