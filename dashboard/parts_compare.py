"""One kind of hose against another: curves, ratio of lives, and whether they can be told apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import html

from dashboard import parts, words_lives
from dashboard.figures.lives import comparison_figure
from dashboard.queries.edition import Row

Kind = tuple[str, str]


def code(kind: Kind) -> str:
    """Return a kind of hose as one value of the address.

    Examples
    --------
    >>> code(("steam / drum", "C-304"))
    'steam%20%2F%20drum/C-304'
    """
    return f"{quote(kind[0], safe='')}/{quote(kind[1], safe='')}"


def chosen(value: str, kinds: Sequence[Kind]) -> Kind | None:
    """Return the kind that a value of the address names, None when it is not offered."""
    return next((kind for kind in kinds if code(kind) == value), None)


def block(kinds: Sequence[Kind], other: str, body: Sequence[Any]) -> html.Section:
    """Return the choice of a second kind, and under it what is said of the two.

    Parameters
    ----------
    kinds : sequence of (application class, construction)
        What can be chosen.
    other : str
        Value of the address; empty when none is chosen.
    body : sequence of components
    """
    data = [{"value": code(kind), "label": words_lives.kind(*kind)} for kind in kinds]
    select = dmc.Select(
        id="life-cell-with", label="Compare with", data=data, searchable=True, clearable=True,
        value=other if chosen(other, kinds) else None, placeholder="Choose a second kind",
        comboboxProps={"shadow": "none"},
    )  # fmt: skip
    return parts.section(
        "Against another kind",
        "The same construction elsewhere, or another one here",
        html.Div(select, className="compare"), *body,
    )  # fmt: skip


def side_by_side(
    names: Sequence[str], fits: Sequence[Row], curves: Sequence[Sequence[Row]]
) -> html.Div:
    """Return both curves in one figure and, beside it, how the two differ in words."""
    if not all(curves):
        return html.Div(parts.empty("One of the two has no curve to draw."))
    drawn = parts.graph(
        "life-cell-comparison", comparison_figure(dict(zip(names, curves, strict=True))), 320,
        "Share still running by age, two kinds",
    )  # fmt: skip
    said = html.Div(comparison_words(names, fits))
    return html.Div([drawn, said], className="columns wide-narrow")


def life_ratio(first: Row, second: Row) -> words_lives.Range:
    """Return how many times as long the second kind lasts, by B10, with a 90 % range.

    Notes
    -----
    Both printed ranges are taken as independent and symmetric in the logarithm. Kinds that
    borrow from each other are not quite independent, which makes the range a little wide.

    Examples
    --------
    >>> one = {"pooled_b10_days": 100.0, "pooled_b10_days_lower": 80.0,
    ...        "pooled_b10_days_upper": 125.0}
    >>> [round(v, 3) for v in life_ratio(one, one)]
    [1.0, 0.729, 1.371]
    """
    values = [words_lives.values(fit, "b10", "pooled") for fit in (first, second)]
    if any(v is None or v <= 0 for triple in values for v in triple):
        return None, None, None
    logs = [[math.log(v or 1.0) for v in triple] for triple in values]
    middle = logs[1][0] - logs[0][0]
    half = math.hypot(*((upper - lower) / 2 for _, lower, upper in logs))
    return math.exp(middle), math.exp(middle - half), math.exp(middle + half)


def comparison_words(names: Sequence[str], fits: Sequence[Row]) -> html.Ul:
    """Return in words how two kinds differ, and whether the ranges allow to say so."""
    ratio, lower, upper = life_ratio(*fits)
    said = [f"{name}: B10 {words_lives.ranged(fit, 'b10', 'pooled')}, {words_lives.evidence(fit)}"
            for name, fit in zip(names, fits, strict=True)]  # fmt: skip
    if ratio is None or lower is None or upper is None:
        verdict = "No ratio of lives can be given: one of the two has no B10 with both bounds."
    else:
        factor = f"{ratio:.1f} times ({lower:.1f} to {upper:.1f})"
        if lower > 1:
            verdict = f"{names[1]} lasts longer: {factor} the B10 of {names[0]}."
        elif upper < 1:
            verdict = f"{names[1]} lasts less long: {factor} the B10 of {names[0]}."
        else:
            verdict = f"The two cannot be told apart: {factor}, which includes 1."
    note = ("The kinds may stand at unlike places; only a trial side by side settles it. Both "
            "ranges are taken as independent.")  # fmt: skip
    return html.Ul([html.Li(html.Strong(verdict)), *(html.Li(text) for text in said),
                    html.Li(note, className="quiet-text")], className="list")  # fmt: skip
