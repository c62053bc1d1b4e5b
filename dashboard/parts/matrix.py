"""The matrix of lives: application classes down, constructions across, a dot on a line in each."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote, urlencode

from dash import dcc, html

from dashboard import parts, words
from dashboard.figures.axis import Axis, log_axis, round_up
from dashboard.queries.edition import Row
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives

REACH = 6.0
"""A scale reaches no further than so many times its outermost dots; longer ranges stay open."""
LEAD, LEAST = 132, 118
"""Pixels of the column of classes, and the fewest of another: seven fit a window of 1024."""
FITTING = 7
"""Constructions that fit beside one another at a desk."""
SHAPES = Axis(0.25, 8.0, (0.25, 1.0, 8.0), is_log=True)
"""Scale of shapes, the border between early failures and wear-out printed at 1."""


def kind_href(application_class: str, construction: str, **query: str | None) -> str:
    """Return the address of a kind of hose; any name is safe in it.

    Examples
    --------
    >>> kind_href("steam / drum", "C-304", mechanism="braid_wear")
    '/lives/steam%20%2F%20drum/C-304?mechanism=braid_wear'
    """
    given = {key: value for key, value in query.items() if value}
    path = f"/lives/{quote(application_class, safe='')}/{quote(construction, safe='')}"
    return path + ("?" + urlencode(given) if given else "")


def matrix_axis(fits: Sequence[Row], measure: str, estimate: str) -> Axis:
    """Return the scale that all cells share: it holds every estimate and most of the ranges."""
    if measure == "shape":
        return SHAPES
    known = [v for fit in fits if (v := words_lives.values(fit, measure, estimate))[0] is not None]
    if not known:
        return log_axis([])
    dots = [value for value, _, _ in known if value]
    lows = sorted(lower for _, lower, _ in known if lower)
    highs = sorted(upper for _, _, upper in known if upper)
    low = min([*dots, *lows[len(lows) // 10 : len(lows) // 10 + 1]])
    high = max([*dots, *highs[len(highs) * 9 // 10 : len(highs) * 9 // 10 + 1]])
    low, high = max(low, min(dots) / REACH), min(high, max(dots) * REACH)
    low, high = round_down(max(low, 0.1)), round_up(max(high, 10 * low))
    return Axis(low, high, (low, round_up((low * high) ** 0.5 * 0.85), high), is_log=True)


def round_down(value: float) -> float:
    """Return the last number of the kind 1, 2, 3, 5 times a power of ten at or below a value.

    Examples
    --------
    >>> round_down(47.0), round_down(230.0), round_down(0.3)
    (30.0, 200.0, 0.3)
    """
    power = 10.0 ** (len(f"{value:.0f}") - 1) if value >= 1 else 0.1
    return max(round(f * power, 6) for f in (1, 2, 3, 5) if f * power <= value * (1 + 1e-9))


def short_lived(fits: Sequence[Row], measure: str, estimate: str) -> set[tuple[str, str]]:
    """Return the kinds whose whole range lies below the middle of the others of their class."""
    found = set()
    for fit in fits if measure != "shape" else ():
        others = [
            value for other in fits
            if other["application_class"] == fit["application_class"] and other is not fit
            and (value := words_lives.values(other, measure, estimate)[0]) is not None
        ]  # fmt: skip
        upper = words_lives.values(fit, measure, estimate)[2]
        if others and upper is not None and upper < statistics.median(others):
            found.add((fit["application_class"], fit["construction"]))
    return found


def matrix(fits: Sequence[Row], measure: str, estimate: str, mechanism: str) -> html.Div:
    """Return the matrix as a table; on a phone it becomes a list by class.

    Parameters
    ----------
    fits : sequence of rows
        Of one mechanism and one clock; at least one.
    measure, estimate, mechanism : str
        What each cell shows; mechanism and clock are kept in the links.
    """
    axis = matrix_axis(fits, measure, estimate)
    short = short_lived(fits, measure, estimate)
    classes = sorted({fit["application_class"] for fit in fits})
    columns = sorted({fit["construction"] for fit in fits})
    by_kind = {(fit["application_class"], fit["construction"]): fit for fit in fits}
    unit = "" if measure == "shape" else f" {clocks.of(fits[0]).short}"
    scale = parts.axis_header(axis, lambda t: words.number(t) + (unit if t == axis.low else ""))
    head = [html.Th(parts.spoken("Application class"), scope="col")] + [
        html.Th([html.Span(words_lives.construction(name), className="column-name"), scale],
                scope="col") for name in columns
    ]
    body = []
    for name in classes:
        cells = [html.Th(name, scope="row")]
        for column in columns:
            fit = by_kind.get((name, column))
            if fit is None:
                cells.append(html.Td(html.Span("no hose yet", className="absent"), className="gap"))
                continue
            is_short = (name, column) in short
            cells.append(html.Td(_cell(fit, axis, measure, estimate, mechanism, is_short)))
        missing = [column for column in columns if (name, column) not in by_kind]
        if missing:
            text = "no hose yet: " + ", ".join(missing)
            cells.append(html.Td(text, className="absent only-narrow gaps"))
        body.append(html.Tr(cells))
    table = html.Table(
        [html.Thead(html.Tr(head)), html.Tbody(body)], className="matrix",
        style={"minWidth": f"{LEAD + LEAST * len(columns)}px"},
    )  # fmt: skip
    if len(columns) > FITTING:
        said = f"{len(columns)} constructions: scroll sideways for the last of them."
        return html.Div([html.P(said, className="caption only-wide"), _room(table)])
    return _room(table)


def _room(table: html.Table) -> html.Div:
    """Return the table in a room of its own that scrolls sideways, by keyboard too."""
    return html.Div(table, className="matrix-room", tabIndex=0, role="region",
                    **{"aria-label": "Lives by application class and construction"})  # fmt: skip


def _cell(
    fit: Row, axis: Axis, measure: str, estimate: str, mechanism: str, is_short: bool
) -> dcc.Link:
    value, lower, upper = words_lives.values(fit, measure, estimate)
    clock = clocks.of(fit)
    name = words_lives.kind(fit["application_class"], fit["construction"])
    ranged = words_lives.ranged(fit, measure, estimate)
    label = (
        f"{name}: {words_lives.MEASURES[measure]} {ranged}, {words_lives.evidence(fit)}"
        + (", short for its class" if is_short else "")
    )
    drawn = parts.interval(
        value, lower, upper, axis, label=label, n_failures=fit["n_failures"], attention=is_short,
        absent=ranged,
    )  # fmt: skip
    unit = "" if measure == "shape" else f" {clock.short}"
    said = []
    if value is not None:
        short = html.Span(" short", className="attention") if is_short else None
        said = [html.Span([html.B(f"{words_lives.bare(value, measure)}{unit}"), short])]
    counts = words_lives.evidence(fit)
    return dcc.Link(
        [
            html.Span(words_lives.construction(fit["construction"]),
                      className="only-narrow cell-name"),
            drawn,
            html.Span([*said, html.Span(counts)], className="counts"),
        ],
        href=kind_href(
            fit["application_class"], fit["construction"],
            mechanism=None if mechanism == "all" else mechanism,
            clock=None if clock is clocks.DAYS else clock.name,
        ),
        className="matrix-cell",
        title=label,
    )  # fmt: skip


def told_by(counts: Row) -> list[str]:
    """Return how many hoses the figures rest on; by readings of a clock, how many stay without."""
    if "n_left_out" not in counts:
        return [f"{words.count(counts['n_lives'], 'hose')}, {counts['n_failures']:,} failed"]
    without = counts["n_left_out"]
    return [f"{words.count(counts['n_lives'], 'hose')} with readings, "
            f"{counts['n_failures']:,} failed", f"{without:,} without" if without else ""]


def unread(counts: Row, classes: Sequence[str]) -> html.P:
    """Return what readings of a clock leave out of the matrix, and why.

    Parameters
    ----------
    counts : row
        Sums over all kinds, as in ``clock_fits``.
    classes : sequence of str
        Application classes without any reading.
    """
    said = words_lives.left_out(counts)
    text = f"Left out for want of readings: {said}. " if said else ""
    if counts["n_cut"]:
        text += (f"{words.count(counts['n_cut'], 'hose')} outlived the readings and "
                 f"{'counts' if counts['n_cut'] == 1 else 'count'} as running until they end. ")
    if classes:
        text += f"No hose is told on {', '.join(classes)}: see calendar days. "
    text += ("Nothing is borrowed from like kinds here: pooled figures, forecasts, ranks and "
             "planned work stand in calendar days only.")
    return html.P(text, className="caption")


def sentence(fits: Sequence[Row], measure: str, estimate: str) -> list[Any]:
    """Return the sentence: the shortest and the longest life that rest on enough failures."""
    sure = [fit for fit in fits if fit["n_failures"] >= 5
            and words_lives.values(fit, measure, estimate)[0] is not None]  # fmt: skip
    if not sure:
        return ["No kind of hose has five failures with an estimate here: ",
                parts.strong("read every figure with its range.")]  # fmt: skip
    sure.sort(key=lambda fit: words_lives.values(fit, measure, estimate)[0] or 0.0)
    first, last = sure[0], sure[-1]
    text = {"b10": "Ten in a hundred have failed by ", "shape": "The shape runs from ",
            "characteristic_life": "63 in a hundred have failed by "}[measure]  # fmt: skip
    out: list[Any] = [text, *_end(first, measure, estimate)]
    if len(sure) > 1:
        out += [" to " if measure == "shape" else ", and only by ", *_end(last, measure, estimate)]
    kinds = words.count(len(sure), "kind")
    ends = "the shortest and the longest" if len(sure) > 1 else "the one"
    return [*out, f"; {ends} of {kinds} with at least five failures."]


def _end(fit: Row, measure: str, estimate: str) -> list[Any]:
    name = words_lives.kind(fit["application_class"], fit["construction"])
    return [parts.strong(words_lives.ranged(fit, measure, estimate)), f" with {name}"]


def caption(measure: str, estimate: str) -> str:
    """Return the words under the heading of the matrix."""
    said = (
        words_lives.capital(words_lives.MEANINGS[measure]) + ". Dot = estimate, bar = 90 % range; "
        "filled from five failures on, pale below, hollow at none"
    )
    said += ", when the value is mostly borrowed." if estimate == "pooled" else "."
    if measure != "shape":
        said += " Short, in rust: the whole range lies below the middle of its class."
    return said
