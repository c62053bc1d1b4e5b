"""A figure as the browser draws it: plain marks and layout, no more than the pages need.

The library's own class holds every value against its catalogue as it is set, which took most of
the time of a page with figures. Here nothing is held against anything: a test does so once, with
that class, for every figure of every page.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

Mark = dict[str, Any]


def scatter(**more: Any) -> Mark:
    """Return a mark of points or lines."""
    return {"type": "scatter", **more}


def heatmap(**more: Any) -> Mark:
    """Return a mark of coloured cells."""
    return {"type": "heatmap", **more}


class Figure:
    """Marks, in the order in which they are drawn, and what stands around them.

    Attributes
    ----------
    data : list of dict
        Marks, by the names of the drawing library; numpy arrays as they are.
    layout : dict
    """

    def __init__(self, *marks: Mark) -> None:
        """Start with marks, or none."""
        self.data: list[Mark] = list(marks)
        self.layout: Mark = {}

    def add_trace(self, mark: Mark) -> None:
        """Draw a mark over those there are."""
        self.data.append(mark)

    def add_traces(self, marks: Sequence[Mark]) -> None:
        """Draw several marks over those there are."""
        self.data.extend(marks)

    def add_scatter(self, **more: Any) -> None:
        """Draw points or lines."""
        self.data.append(scatter(**more))

    def add_bar(self, **more: Any) -> None:
        """Draw bars."""
        self.data.append({"type": "bar", **more})

    def add_annotation(self, **more: Any) -> None:
        """Set words into the figure."""
        self.layout.setdefault("annotations", []).append(more)

    def add_shape(self, **more: Any) -> None:
        """Draw a shape."""
        self.layout.setdefault("shapes", []).append(more)

    def add_hline(self, y: float, line: Mark) -> None:
        """Draw a level line across the whole figure."""
        self.add_shape(type="line", x0=0, x1=1, xref="x domain", y0=y, y1=y, yref="y", line=line)

    def update_layout(self, **more: Any) -> None:
        """Set what stands around the marks; of parts that are there, only what is named."""
        _merge(self.layout, more)

    def update_xaxes(self, **more: Any) -> None:
        """Set the axis across."""
        self.update_layout(xaxis=more)

    def update_yaxes(self, **more: Any) -> None:
        """Set the axis upward."""
        self.update_layout(yaxis=more)

    def to_plotly_json(self) -> Mark:
        """Return what is sent to the browser."""
        return {"data": plain(self.data), "layout": plain(self.layout)}


def plain(value: Any) -> Any:
    """Return a value with its arrays as the browser takes them: numbers packed, all else listed.

    Examples
    --------
    >>> plain({"x": np.array([1.0, np.nan]), "y": np.array(["2026-01-31"], dtype="datetime64[D]")})
    {'x': {'dtype': 'f8', 'bdata': 'AAAAAAAA8D8AAAAAAAD4fw=='}, 'y': ['2026-01-31']}
    """
    if isinstance(value, dict):
        return {name: plain(inner) for name, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    if not isinstance(value, np.ndarray):
        return value
    if value.dtype == np.float64 and value.size:
        packed = {"dtype": "f8", "bdata": base64.b64encode(value.tobytes()).decode()}
        return packed if value.ndim == 1 else packed | {"shape": ", ".join(map(str, value.shape))}
    return (np.datetime_as_string(value) if value.dtype.kind == "M" else value).tolist()


def _merge(there: Mark, more: Mapping[str, Any]) -> None:
    for name, value in more.items():
        if isinstance(value, dict) and isinstance(there.get(name), dict):
            _merge(there[name], value)
        else:
            there[name] = value
