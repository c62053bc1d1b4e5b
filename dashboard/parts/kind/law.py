"""Block of one kind of hose: is the Weibull the law of these lives, and what else could be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.queries.edition import Row
from dashboard.words import lives as words_lives

DOUBTFUL = 0.05
"""p-value up to which chance is no likely maker of a difference."""
CLEAR = 2.0
"""Akaike points from which one law describes lives clearly better than another."""
LEAST = "Ten failures are needed to tell one law of life from another; there are "


def block(fit: Row, second: Row | None, points: Sequence[Row], how: Any) -> html.Section:
    """Return what examining a fit found.

    Parameters
    ----------
    fit : row of ``fits``
    second : row of ``fit_tests`` or None
    points : sequence of rows of ``plot_points``
    how : component
        Mark that opens the method.
    """
    title = "Is it a Weibull life?"
    if not second or second["n_failures_judged"] is None:
        said = LEAST + f"{words.count(fit['n_failures'], 'failure')}."
        if fit["n_failures"] >= 10:
            said = ("Not judged: there is no stand-alone fit, or hoses found failed were looked at "
                    "on the same days of their lives.")
        return parts.section(title, "", parts.empty(said), how=how)
    lines = [("Over the whole life. ", whole(second)), ("At the ends. ", ends(second, points)),
             ("A later start. ", later_start(second))]
    if second["mixture_p_value"] is not None:
        lines.append(("Two populations. ", populations(fit, second)))
    body = html.Ul([html.Li([html.B(head), text]) for head, text in lines], className="list")
    return parts.section(title, caption(fit, second), body, how=how)


def caption(fit: Row, second: Row) -> str:
    """Return what the judgement rests on."""
    judged, there = second["n_failures_judged"], fit["n_failures"]
    if judged < there:
        return (f"{words.mechanism(fit['mechanism'])}; judged by about {judged} of "
                f"{there:,} failures, drawn at random: all of them would find any trifle out.")
    return f"{words.mechanism(fit['mechanism'])}; {words_lives.evidence(fit)}."


def whole(second: Row) -> str:
    """Return how far points and line lie apart on the whole."""
    p = second["anderson_darling_p_value"]
    if p <= DOUBTFUL:
        return ("The Weibull does not describe these lives well: so great a distance between "
                f"hoses and line is {words_lives.p_value(p)}.")
    return f"No reason to doubt the line: {_chance(p)}."


def ends(second: Row, points: Sequence[Row]) -> str:
    """Return whether the plotted points bend away from a straight line."""
    p = second["plot_correlation_p_value"]
    if p > DOUBTFUL:
        return f"The plotted points are as straight as such points are: {_chance(p)}."
    first = min((point["age"] for point in points), default=None)
    told = "" if first is None else (
        f" The first failure came at {words.days(max(first, 1.0))}: look at the youngest first.")
    return ("The plotted points bend or straggle, as a few first or last failures can "
            f"make them; {words_lives.p_value(p)}.{told}")


def later_start(second: Row) -> str:
    """Return whether a Weibull that starts at an age describes the lives better."""
    outcome, location = second["three_parameter_outcome"], second["three_parameter_location_days"]
    if outcome == "from_new":
        return "No: these hoses fail from new on."
    if outcome != "estimate":
        return ("Cannot be estimated: the nearer the start is put to the first failure, the "
                "better it seems to fit, without end.")
    age = words.days(location)
    points = second["aicc_weibull"] - second["aicc_three_parameter"]
    if points >= CLEAR:
        return (f"A life without failures up to about {age} describes these hoses clearly better "
                f"(by {points:.1f} Akaike points). No age is safe for that: the start is read off "
                "the few first failures.")
    return f"A start at {age} describes these hoses no better: the data cannot tell."


def populations(fit: Row, second: Row) -> str:
    """Return whether two populations are suspected, and what else could look like them."""
    p = second["mixture_p_value"]
    if p > DOUBTFUL or second["mixture_early_share"] is None:
        return ("Looked for because the line fits poorly; none found that chance alone could not "
                f"make (p = {words.number(p)}).")
    return (
        f"Suspected: about {words.percent(second['mixture_early_share'])} of these hoses with a "
        f"characteristic life of {words.days(second['mixture_early_life_days'])}, the others of "
        f"{words.days(second['mixture_late_life_days'])}; {words_lives.p_value(p)}. A bad batch, "
        "faults of fitting, a second mechanism or two duties in one class all look like this: the "
        "rows of the youngest failures say which." + (
            " All mechanisms count here, and two of them alone can look so: choose one above."
            if fit["mechanism"] == "all" else "")
    )


def _chance(p: float) -> str:
    """Return a p-value as a share of like sets."""
    return f"of like sets of true Weibull lives, {words.percent(p)} look as odd or odder"
