"""How long hoses last at one place and at like places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard.theme import LIGHT


def survival_here(
    age: Sequence[float],
    like: Sequence[float],
    lower: Sequence[float],
    upper: Sequence[float],
    here: Sequence[float | None],
    *,
    age_now: float | None,
    failed_at: Sequence[float],
    is_prone: bool,
) -> go.Figure:
    """Return survival of like places with its band, of this place, and the failures seen here.

    Parameters
    ----------
    age : sequence of float
        Days in service.
    like, lower, upper : sequence of float
        Survival of like places and its 90 % range, 0 to 1.
    here : sequence of float or None
        Survival at this place's rate of failing; None where no rate is known.
    age_now : float or None
        Age of the hose in service, days.
    failed_at : sequence of float
        Ages at which hoses failed here, days.
    is_prone : bool
        Fails faster than its peers: drawn in rust.
    """
    days = np.asarray(age, dtype=float)
    figure = go.Figure()
    figure.add_scatter(
        x=np.concatenate([days, days[::-1]]),
        y=np.concatenate([np.asarray(upper, float), np.asarray(lower, float)[::-1]]),
        fill="toself", mode="lines", line={"width": 0}, fillcolor=LIGHT["petrol-soft"],
        hoverinfo="skip",
    )  # fmt: skip
    figure.add_scatter(
        x=days, y=np.asarray(like, dtype=float), mode="lines",
        line={"color": LIGHT["petrol"], "width": 2},
        hovertemplate="like places: %{y:.0%} still run after %{x:,.0f} days<extra></extra>",
    )  # fmt: skip
    colour = LIGHT["rust"] if is_prone else LIGHT["ink"]
    own = np.asarray([np.nan if v is None else v for v in here], dtype=float)
    if np.isfinite(own).any():
        figure.add_scatter(
            x=days, y=own, mode="lines", line={"color": colour, "width": 2, "dash": "dash"},
            hovertemplate="here: %{y:.0%} still run after %{x:,.0f} days<extra></extra>",
        )  # fmt: skip
    if len(failed_at):
        marks = np.sort(np.asarray(failed_at, dtype=float))
        figure.add_scatter(
            x=marks, y=np.interp(marks, days, np.where(np.isfinite(own), own, like)),
            mode="markers", hovertemplate="failed here at %{x:,.0f} days<extra></extra>",
            marker={"symbol": "line-ns", "size": 13, "line": {"width": 2, "color": colour}},
        )  # fmt: skip
    _labels(figure, days, np.asarray(like, float), own, colour)
    if age_now is not None:
        _hose_now(figure, age_now)
    figure.update_yaxes(range=[0, 1.04], tickformat=".0%", tickvals=np.linspace(0, 1, 5))
    figure.update_xaxes(
        range=[0, float(days.max())], nticks=6, tickformat=",", title={"text": "days in service"}
    )
    figure.update_layout(margin={"l": 46, "r": 10, "t": 22, "b": 40})
    return figure


def _labels(
    figure: go.Figure, days: np.ndarray, like: np.ndarray, own: np.ndarray, colour: str
) -> None:
    """Name each curve beside it, the upper one above, the lower one below."""
    own_is_lower = not np.isfinite(own).any() or np.nanmean(own) < like.mean()
    for curve, text, shade, above in (
        (like, "like places", LIGHT["petrol"], own_is_lower),
        (own, "this place", colour, not own_is_lower),
    ):
        if not np.isfinite(curve).any():
            continue
        level = 0.62 if above else 0.4
        at = int(np.argmin(np.abs(np.nan_to_num(curve, nan=9.0) - level)))
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
