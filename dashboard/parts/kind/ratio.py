"""One kind of hose against another: curves, ratio of lives, and whether they can be told apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import html

from dashboard import parts, words
from dashboard.figures.lives import comparison_figure
from dashboard.queries.edition import Row
from dashboard.words import lives as words_lives

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


def block(
    kinds: Sequence[Kind], other: str, body: Sequence[Any], how: Any = None
) -> html.Section:
    """Return the choice of a second kind, and under it what is said of the two.

    Parameters
    ----------
    kinds : sequence of (application class, construction)
        What can be chosen.
    other : str
        Value of the address; empty when none is chosen.
    body : sequence of components
    how : component or None
        Mark that opens the method.
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
        html.Div(select, className="compare"), *body, how=how,
    )  # fmt: skip


def side_by_side(
    kinds: Sequence[Kind], fits: Sequence[Row], curves: Sequence[Sequence[Row]], row: Row
) -> html.Div:
    """Return both curves in one figure and, beside it, how the two differ in words."""
    said = html.Div(comparison_words(short_names(*kinds), fits, row))
    if not all(curves):
        return said
    # In the figure there is room only for what tells the two apart.
    differs = 1 if kinds[0][0] == kinds[1][0] else 0
    by_name = {kind[differs]: curve for kind, curve in zip(kinds, curves, strict=True)}
    drawn = parts.graph(
        "life-cell-comparison",
        comparison_figure(by_name),
        320, "Share still running by age, two kinds",
    )  # fmt: skip
    return html.Div([drawn, said], className="columns wide-narrow")


def comparison_words(names: Sequence[str], fits: Sequence[Row], row: Row) -> html.Ul:
    """Return in words how two kinds differ, and whether the lives allow to say so.

    Parameters
    ----------
    names : sequence of two str
    fits : sequence of two rows of ``fits``
    row : row of ``life_comparisons``
        The second of the two over the first.
    """
    said = [f"{name}: B10 {words_lives.ranged(fit, 'b10', 'pooled')}, {words_lives.evidence(fit)}."
            for name, fit in zip(names, fits, strict=True)]  # fmt: skip
    said += [_by_characteristic_life(row), _shapes(names, row), _tests(row)]
    return html.Ul([
        html.Li(html.Strong(verdict(names, row))), *(html.Li(text) for text in said),
        html.Li("The kinds may stand at unlike places; only a trial side by side settles it.",
                className="quiet-text"),
    ], className="list")  # fmt: skip


def verdict(names: Sequence[str], row: Row) -> str:
    """Return which of two kinds lasts longer by B10, or that it cannot be told."""
    ratio, lower, upper = (row[f"b10_ratio{end}"] for end in ("", "_lower", "_upper"))
    if ratio is None:
        return "No ratio of lives can be given: one of the two has no B10."
    factor = words_lives.times(ratio, lower, upper)
    chance = words.percent(row["longer_b10_probability"])
    if lower > 1:
        return f"{names[1]} lasts longer: {factor} the B10 of {names[0]}; chance {chance}."
    if upper < 1:
        other = words.percent(1 - row["longer_b10_probability"])
        return f"{names[1]} lasts less long: {factor} the B10 of {names[0]}; chance {other}."
    return (f"The two cannot be told apart by B10: {factor}, which includes 1; chance that "
            f"{names[1]} is the longer-lived {chance}." + _later(names[1], row))  # fmt: skip


def _later(name: str, row: Row) -> str:
    """Return what the characteristic life decides where B10 decides nothing."""
    lower, upper = (row[f"characteristic_life_ratio_{end}"] for end in ("lower", "upper"))
    if lower is None or lower <= 1 <= upper:
        return ""
    return f" Among the longer lives, {name} lasts {'longer' if lower > 1 else 'less long'}."


def short_names(one: Kind, two: Kind) -> list[str]:
    """Return the names of two kinds by what tells them apart.

    Examples
    --------
    >>> short_names(("steam", "C-304"), ("steam", "C-316"))
    ['C-304', 'C-316']
    >>> short_names(("steam", "C-304"), ("brine", "C-304"))
    ['C-304 on steam', 'C-304 on brine']
    """
    if one[0] == two[0] and one[1] != two[1]:
        return [one[1], two[1]]
    return [words_lives.kind(*kind) for kind in (one, two)]


def _by_characteristic_life(row: Row) -> str:
    ratio, lower, upper = (
        row[f"characteristic_life_ratio{end}"] for end in ("", "_lower", "_upper"))  # fmt: skip
    if ratio is None:
        return "By characteristic life no ratio can be given."
    chance = words.percent(row["longer_characteristic_life_probability"])
    factor = words_lives.times(ratio, lower, upper)
    return f"By characteristic life {factor} as long; chance that it is the longer {chance}."


def _shapes(names: Sequence[str], row: Row) -> str:
    """Return how the shapes differ, by the hoses of each kind alone."""
    ratio, lower, upper = (row[f"shape_ratio{end}"] for end in ("", "_lower", "_upper"))
    if ratio is None:
        return "Shapes: one of the two kinds has none by its own hoses, so they are not compared."
    factor = words_lives.times(ratio, lower, upper)
    if lower is not None and lower > 1:
        meaning = "failures gather in a narrower band of ages, so the order can change with age"
        return f"The shape of {names[1]} is steeper: {factor}; its {meaning}."
    if upper is not None and upper < 1:
        meaning = "failures spread over a wider band of ages, so the order can change with age"
        return f"The shape of {names[1]} is flatter: {factor}; its {meaning}."
    return f"The shapes cannot be told apart: {factor}, which includes 1."


def _by_age(early: float | None, late: float | None) -> str:
    """Return the tests that look at young and at old hoses above all."""
    if early is None or late is None:
        return ""
    return f"; looking most at young hoses {_p(early)}, at old ones {_p(late)}"


def _p(value: float) -> str:
    return "p below 0.001" if value < 0.001 else f"p = {words.number(value)}"


def _tests(row: Row) -> str:
    """Return the tests against chance, in one sentence each."""
    rank, law = row["log_rank_p_value"], row["law_p_value"]
    said = ("No log-rank test: no failure while hoses of both kinds ran." if rank is None else
            f"Log-rank test over all ages: {words_lives.p_value(rank)}"
            f"{_by_age(row['log_rank_early_p_value'], row['log_rank_late_p_value'])}.")  # fmt: skip
    if law is not None:
        said += f" One Weibull law for both: {words_lives.p_value(law)}."
    return said
