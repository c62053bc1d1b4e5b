"""Marks that life figures share: bands, lines, words beside them, ticks of a log axis."""

from __future__ import annotations

import html
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from dashboard import words
from dashboard.theme import LIGHT

Floats = NDArray[np.float64]
Row = dict[str, Any]
CELLS = 600
"""Steps of an axis that an eye tells apart in a figure of a page."""


def column(rows: Sequence[Row], name: str) -> Floats:
    """Return one column of rows as numbers; an absent value becomes NaN, which draws nothing."""
    return np.array([np.nan if row[name] is None else row[name] for row in rows], dtype=float)


def seen(*axes: Floats) -> NDArray[np.intp]:
    """Return which points of a run are worth sending: one a cell that the eye tells apart.

    Parameters
    ----------
    *axes : arrays of shape (n,)
        Where the points stand, as drawn, in the order in which they are joined; finite.

    Returns
    -------
    array of int
        All of a short run; else the first point of each stay in a cell, and the last of all.

    Examples
    --------
    >>> run = np.linspace(0.0, 1.0, 100_000)
    >>> len(seen(run, run**2)) < 4 * CELLS, seen(run[:3], run[:3]).tolist()
    (True, [0, 1, 2])
    """
    n = len(axes[0])
    keep = np.ones(n, dtype=bool)
    if n > 2 * CELLS:
        keep[1:-1] = False
        for axis in axes:
            span = float(np.ptp(axis)) or 1.0
            cell = np.floor((axis - axis.min()) / span * CELLS)
            keep[1:-1] |= (np.diff(cell) != 0)[:-1]
    return np.flatnonzero(keep)


def band(x: Floats, lower: Floats, upper: Floats, colour: str = "petrol-soft") -> go.Scatter:
    """Return the area between two bounds; ages at which either is absent are left out."""
    known = np.isfinite(lower) & np.isfinite(upper)
    return go.Scatter(
        x=np.concatenate([x[known], x[known][::-1]]),
        y=np.concatenate([upper[known], lower[known][::-1]]),
        mode="lines", fill="toself", fillcolor=LIGHT[colour], line={"width": 0},
        hoverinfo="skip",
    )  # fmt: skip


def line(x: Floats, y: Floats, colour: str = "petrol", dash: str = "solid", width: float = 2.0,
         hover: Sequence[str] | None = None) -> go.Scatter:  # fmt: skip
    """Return a line; with words for the pointer, or silent."""
    return go.Scatter(
        x=x, y=y, mode="lines", line={"color": LIGHT[colour], "width": width, "dash": dash},
        hovertext=hover, hoverinfo="text" if hover is not None else "skip",
    )  # fmt: skip


def word(text: str, x: float, y: float, colour: str = "muted", **place: Any) -> Row:
    """Return words set beside a mark, without an arrow; they are shown as they stand."""
    shown = html.escape(text, quote=False).replace("\n", "<br>")
    return {"text": shown, "x": x, "y": y, "showarrow": False,
            "font": {"color": LIGHT[colour], "size": 12.5}, "xanchor": "left"} | place


def percent_ticks(shares: Iterable[float]) -> dict[str, list[Any]]:
    """Return the ticks of an axis of shares, written as the pages write percent.

    Examples
    --------
    >>> percent_ticks([0.5, 1.0])
    {'tickvals': [0.5, 1.0], 'ticktext': ['50\xa0%', '100\xa0%']}
    """
    at = [float(share) for share in shares]
    return {"tickvals": at, "ticktext": [words.percent(share) for share in at]}


def wrapped(text: str, width: int = 22, most: int = 2) -> str:
    """Return a text in short lines, at most so many.

    Examples
    --------
    >>> wrapped("stress corrosion cracking, 30 %", 20)
    'stress corrosion\\ncracking, 30\xa0%'
    """
    text = text.replace(" %", "\u00a0%")
    return "\n".join(textwrap.wrap(text, width, max_lines=most, placeholder=" …") or [text])


def upright(x: float, text: str, is_log: bool = False) -> tuple[Row, Row]:
    """Return a dotted line across the figure at an age, and the words at its top."""
    at = float(np.log10(x)) if is_log else x
    mark = {"type": "line", "x0": x, "x1": x, "y0": 0, "y1": 1, "yref": "paper",
            "line": {"color": LIGHT["muted"], "width": 1, "dash": "dot"}}
    said = word(text, at, 1.0, yref="paper", xshift=5, yanchor="top")
    return mark, said


def log_ticks(low: float, high: float) -> tuple[list[float], list[str]]:
    """Return ages to print on a log axis, at most seven, and their text.

    Examples
    --------
    >>> log_ticks(40.0, 2500.0)
    ([50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0], ['50', '100', '200', '500', '1,000', '2,000'])
    >>> log_ticks(2.0, 90000.0)[1]
    ['10', '100', '1,000', '10,000']
    """
    for factors in ((1, 2, 5), (1, 3), (1,)):
        powers = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
        ticks = [f * 10.0**p for p in powers for f in factors if low <= f * 10.0**p <= high]
        if len(ticks) <= 7:
            break
    return ticks, [f"{tick:,.0f}" if tick >= 1 else f"{tick:g}" for tick in ticks]


def spaced(wanted: Sequence[float], least: float, most: float = np.inf) -> list[float]:
    """Move heights of labels apart so that neighbours keep a least distance, none above `most`.

    Examples
    --------
    >>> [round(v, 3) for v in spaced([0.1, 0.12, 0.5], 0.06)]
    [0.08, 0.14, 0.5]
    >>> [round(v, 3) for v in spaced([0.5, 0.97, 0.98], 0.1, 1.0)]
    [0.5, 0.9, 1.0]
    """
    order = np.argsort(wanted, kind="stable")
    placed = np.asarray(wanted, dtype=float)[order]
    for _ in range(200):
        gaps = np.diff(placed)
        close = np.flatnonzero(gaps < least - 1e-9)
        if close.size == 0:
            break
        for i in close:
            push = (least - (placed[i + 1] - placed[i])) / 2
            if push > 0:
                placed[i] -= push
                placed[i + 1] += push
    for last in range(len(placed) - 1, -1, -1):
        placed[last] = min(placed[last], most)
        most = float(placed[last]) - least
    out = np.empty_like(placed)
    out[order] = placed
    return [float(v) for v in out]
