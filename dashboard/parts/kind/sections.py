"""Blocks of the page of one kind of hose: its fits in words, its hoses, its match with another."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import Axis
from dashboard.parts.matrix import kind_href
from dashboard.queries.edition import Row
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives

CONFLICT = 0.01
"""Chance below which hoses are called unlike those that their pooled figure borrows from: of a
hundred kinds that are alike, one is called so."""
OPEN = 1000.0
"""Times its lower end from which on the range of what was to be expected says nothing."""


def fits_table(fits: Sequence[Row], axis: Axis, chosen: str) -> html.Table:
    """Return one row a mechanism: counts, B10 on a shared scale, both estimates in words."""
    clock = clocks.of(fits[0])
    is_days, estimate = clock is clocks.DAYS, clocks.usual_estimate(clock)
    unit = "" if is_days else f" {clock.short}"
    scale = parts.axis_header(axis, lambda t: f"{t:,.0f}" + (unit if t == axis.low else ""))
    head = [
        "Failed by", "Counts", html.Span(["B10, pooled" if is_days else "B10, stand-alone", scale]),
        "B10", "Characteristic life", "Shape", "By these hoses alone",
    ]  # fmt: skip
    rows = []
    for fit in fits:
        name = words.mechanism(fit["mechanism"])
        href = kind_href(
            fit["application_class"], fit["construction"],
            mechanism=None if fit["mechanism"] == "all" else fit["mechanism"],
            clock=None if is_days else clock.name,
        )  # fmt: skip
        named = html.Strong(name) if fit["mechanism"] == chosen else parts.link(name, href)
        label = f"{name}: B10 {words_lives.ranged(fit, 'b10', estimate)}"
        dot = parts.interval(
            *words_lives.values(fit, "b10", estimate), axis, label=label,
            n_failures=fit["n_failures"],
        )  # fmt: skip
        rows.append([
            named, words_lives.evidence(fit), dot,
            *(_estimates(fit, measure, estimate) for measure in words_lives.MEASURES),
            words_lives.status(fit["status"], clock)[0],
        ])  # fmt: skip
    return parts.table(head, rows, className="fits")


def _estimates(fit: Row, measure: str, estimate: str) -> html.Div:
    """Return the leading estimate; under a pooled one the stand-alone one."""
    under = None
    if estimate == "pooled" and words_lives.values(fit, measure, "alone")[0] is not None:
        under = f"alone {words_lives.ranged(fit, measure, 'alone')}"
    return html.Div([words_lives.ranged(fit, measure, estimate),
                     html.Div(under, className="below") if under else None])  # fmt: skip


def statuses(fits: Sequence[Row]) -> html.Dl:
    """Return the meaning of every status that occurs in a table of fits."""
    clock = clocks.of(fits[0])
    told = [words_lives.status(name, clock) for name in sorted({fit["status"] for fit in fits})]
    return html.Dl([item for short, meaning in told if meaning
                    for item in (html.Dt(short), html.Dd(meaning))], className="terms")


def judgement(fit: Row, second: Row | None) -> html.Ul:
    """Return what is said of a fit: its fit in words, the second opinion, what is borrowed."""
    lines = [html.Li([html.B("Does the line fit? "), sentence((second or {}).get("words")
                      or "too few failures to judge")])]  # fmt: skip
    lines.append(html.Li([html.B("Second opinion. "), _rank_regression(second)]))
    best = (second or {}).get("best_distribution")
    if second and best:
        lines.append(html.Li([html.B("Other shapes of life. "), _others(second, best)]))
    share = fit["own_data_share"]
    if share is not None:
        lines.append(html.Li([
            html.B("Own data. "),
            f"The pooled figure rests to {words.percent(share)} on these hoses; the rest is "
            "borrowed from kinds of the same class, construction and mechanism."]))  # fmt: skip
    if fit["expected_p_value"] is not None:
        lines.append(html.Li([html.B("Against like kinds. "), against_words(fit)]))
    shape, lower, upper = words_lives.values(fit, "shape", "alone")
    if shape is not None:
        lines.append(html.Li([html.B("Shape. "), shape_words(shape, lower, upper)]))
    doubted = fit["b10_days_if_unknown_failed"]
    if doubted is not None and fit["b10_days"] is not None:
        lines.append(html.Li([
            html.B("Removals without a reason. "),
            "Counted as taken out unfailed. Had all of them been failures, B10 by these hoses "
            f"alone would be {words_lives.amount(doubted, 'b10')} instead of "
            f"{words_lives.amount(fit['b10_days'], 'b10')}."]))  # fmt: skip
    if fit["note"]:
        lines.append(html.Li([html.B("Know beforehand. "), sentence(fit["note"])]))
    return html.Ul(lines, className="list")


def against_words(fit: Row) -> str:
    """Return whether these hoses fail as the kinds that the pooled figure borrows from."""
    lower, upper = fit["failures_expected_lower"], fit["failures_expected_upper"]
    if upper > OPEN * lower:
        return ("Like kinds leave open by more than a factor of a thousand how many failures to "
                "expect here, so there is nothing to compare with yet.")
    span = words.spread(lower, upper)
    shared = fit["n_unknown"] if fit["mechanism"] != "all" else 0
    more = f" and a share of {shared:,} of unknown mechanism" if shared else ""
    said = (f"{words.count(fit['n_failures'], 'failure')}{more} here; class, construction and "
            f"mechanism led one to expect {words.number(fit['failures_expected'])} ({span}) in the "
            f"time watched: {words_lives.p_value(fit['expected_p_value'])}.")
    if fit["expected_p_value"] >= CONFLICT:
        return said
    return said + (" These hoses are unlike those borrowed from; the pooled figure lies between "
                   "both and may suit neither. Look for what is different here.")


def sentence(text: str) -> str:
    """Return words as a sentence."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _rank_regression(second: Row | None) -> str:
    if not second or second["rank_regression_shape"] is None:
        return "Not made: too few failures for a line through the plotted points."
    life = second["rank_regression_characteristic_life_days"]
    return (
        f"A line through the plotted points (median ranks) gives shape "
        f"{second['rank_regression_shape']:.2f} and characteristic life "
        f"{words_lives.amount(life, 'b10')}."
    )


def _others(second: Row, best: str) -> str:
    names = ("weibull", "lognormal", "exponential")
    known = {name: second[f"aicc_{name}"] for name in names if second[f"aicc_{name}"] is not None}
    if len(known) < 2:
        return f"{best} describes these hoses best."
    least = min(known.values())
    gaps = ", ".join(
        f"{_law(name)} {value - least:.1f} behind" if value > least else f"{_law(name)} best"
        for name, value in sorted(known.items(), key=lambda item: item[1])
    )
    return f"By corrected Akaike points: {gaps}. Under 2 apart, the data cannot tell."


def _law(name: str) -> str:
    return "Weibull" if name == "weibull" else name


def shape_words(shape: float, lower: float | None, upper: float | None) -> str:
    """Return a shape with its range and whether it tells wear-out from early failures."""
    said = words_lives.between(lower, upper, "shape")
    if lower is not None and lower > 1:
        return f"{shape:.2f} ({said}): wear-out, the older the likelier to fail."
    if upper is not None and upper < 1:
        return f"{shape:.2f} ({said}): early failures, look at fitting and supply."
    return f"{shape:.2f} ({said}): wear-out and failures at any age cannot be told apart."
