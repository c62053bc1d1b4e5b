"""Shared pieces of the pages: pure functions that return components."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeAlias
from urllib.parse import quote, urlencode

import plotly.graph_objects as go
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import words
from dashboard.figures.axis import Axis
from dashboard.theme import figure_template

Child: TypeAlias = Component | str | None
LONG_NAME = 60
"""Characters from which on a name is set small; cells.js has the same number."""
GRAPH_CONFIG = {"showSendToCloud": False, "displaylogo": False, "displayModeBar": False}


def headline(*children: Child) -> html.H1:
    """Return the one sentence that answers the page's question."""
    return html.H1(list(children), className="headline")


def strong(text: str, attention: bool = False) -> html.Strong:
    """Return the weight of a sentence; rust when it is above expectation."""
    return html.Strong(text, className="attention" if attention else None)


def context_line(*children: Child) -> html.P:
    """Return the quiet line under the sentence: counts, data date, what was left out."""
    joined: list[Child] = []
    for child in (c for c in children if c):
        joined += [" · ", child] if joined else [child]
    return html.P(joined, className="context")


def section(
    title: str, caption: Child | list[Child], *children: Child | list[Any],
    how: Child = None, className: str = "",  # noqa: N803  (the name Dash gives it)
) -> html.Section:  # fmt: skip
    """Return a block: heading, caption with the mark that opens the method, evidence."""
    under = caption if isinstance(caption, list) else [caption]
    head: list[Child] = [html.H2(title)]
    if any(under) or how:
        said = html.P(under, className="caption") if any(under) else None
        head.append(html.Div([said, how], className="caption-line"))
    return html.Section([*head, *children], className=f"block {className}".strip())


def how(method: Mapping[str, str], rows: Child | list[Child], as_of: dt.date) -> html.Details:
    """Return the mark that says how a figure is known: method, rows behind it, data date."""
    key = method.get("key")
    more = html.A("Formulas and sources", href=f"/guide#method-{key}") if key else None
    lines = [
        html.P([html.B("Method. "), method.get("words") or "Not described in this edition.", " ",
                more]),
        html.P([html.B("Rows. "), *(rows if isinstance(rows, list) else [rows])]),
        html.P([html.B("Data date. "), words.date(as_of), ". Ranges hold 90 %."]),
    ]
    return html.Details(
        [html.Summary("how do you know"), html.Div(lines, className="how-panel")],
        className="how",
    )


def caution(lead: str, text: str) -> html.P:
    """Return a caution, placed where a hand or a decision is near."""
    return html.P([html.Strong(lead), " ", text], className="caution", role="note")


def empty(text: str) -> html.P:
    """Return the words that stand where there is nothing to show, as a sentence.

    Examples
    --------
    >>> empty("no hose is in service").children
    'No hose is in service.'
    """
    end = "" if text.endswith((".", "?", "!")) else "."
    return html.P(f"{text[:1].upper()}{text[1:]}{end}", className="absent")


def hazards(names: Iterable[str] | None) -> list[html.Span]:
    """Return each hazard as a small outlined word."""
    return [html.Span(name, className="hazard") for name in names or ()]


def file_name(name: str) -> html.Span:
    """Return a file's name that a narrow column may break between its words."""
    pieces = re.findall(r"[^_]*_|[^_]+", name)
    return html.Span([html.Span(piece) for piece in pieces], className="file-name")


def strength(n_failures: int) -> str:
    """Return the class of a dot: filled from five failures on, paler below, hollow at none."""
    if n_failures >= 5:
        return "strong"
    return "some" if n_failures >= 1 else "none"


def interval_places(
    estimate: float, lower: float | None, upper: float | None, axis: Axis
) -> dict[str, Any]:
    """Return where dot and bar of a range lie on an axis, in percent, and which ends are open."""
    left = axis.position(lower) if lower is not None else 0.0
    right = axis.position(upper) if upper is not None else 100.0
    ends = [
        "open-left" if lower is None or lower < axis.low else "",
        "open-right" if upper is None or upper > axis.high else "",
    ]
    return {
        "dot": round(axis.position(estimate), 2),
        "left": round(left, 2),
        "width": round(max(0.0, right - left), 2),
        "ends": " ".join(filter(None, ends)),
        "beyond": estimate > axis.high or estimate < axis.low,
    }


def interval_data(
    estimate: float | None, lower: float | None, upper: float | None, axis: Axis, *,
    label: str, n_failures: int = 5, attention: bool = False, absent: str = "too little is known",
    figure: str = "", between: str = "",
) -> dict[str, Any]:  # fmt: skip
    """Return a dot on a line as plain values, for a table cell drawn in the browser.

    As `interval`; `figure` and `between` are the estimate and its range as words below the line.
    """
    if estimate is None:
        return {"absent": absent}
    names = ["interval", strength(n_failures), "attention" if attention else ""]
    places = interval_places(estimate, lower, upper, axis)
    names += [places.pop("ends"), "beyond" if places.pop("beyond") else ""]
    return places | {"classes": " ".join(filter(None, names)), "label": label,
                     "figure": figure, "range": between}


def interval(
    estimate: float | None, lower: float | None, upper: float | None, axis: Axis, *,
    label: str, n_failures: int = 5, attention: bool = False, absent: str = "too little is known",
) -> html.Span:  # fmt: skip
    """Return a dot on a line: dot = estimate, bar = 90 % range, open where it leaves the scale.

    Parameters
    ----------
    estimate, lower, upper : float or None
        In the unit of the axis. An unknown estimate gives the words of `absent`.
    axis : Axis
        Shared by all rows of the table.
    label : str
        The same in words, for those who do not see the drawing.
    n_failures : int
        Failures behind the value: at least five fill the dot, none leaves it hollow.
    attention : bool
        Above expectation: rust.
    """
    cell = interval_data(
        estimate, lower, upper, axis, label=label, n_failures=n_failures, attention=attention,
        absent=absent,
    )  # fmt: skip
    if "absent" in cell:
        return html.Span(cell["absent"], className="absent")
    bar = {"left": f"{cell['left']}%", "width": f"{cell['width']}%"}
    return html.Span(
        [
            html.Span(className="bar", style=bar),
            html.Span(className="dot", style={"left": f"{cell['dot']}%"}),
        ],
        className=cell["classes"],
        title=label,
        role="img",
        **{"aria-label": label},
    )


def axis_header(axis: Axis, written: Callable[[float], str], name: str = "") -> html.Span:
    """Return the printed scale of a column of dots on lines, under the column's name.

    The name stands beside the drawing where a phone shows each row as a block.
    """
    scale = html.Span(
        [
            html.Span(written(tick), style={"left": f"{axis.position(tick):.2f}%"})
            for tick in axis.ticks
        ],
        className="scale",
    )
    return html.Span([name, scale], **{"data-head": name}) if name else scale


def graph(id: str, figure: go.Figure | None, height: int, label: str) -> html.Figure:
    """Return a figure in the look of the pages, recoloured in the browser for the dark scheme.

    Parameters
    ----------
    id : str
        ``<page>-<thing>``. A callback that redraws it writes ``figure_id(id)``, property ``data``.
    figure : Figure or None
        In the colours of the light scheme; numpy arrays, not lists.
    height : int
        Pixels, fixed, so that nothing moves when the figure arrives.
    label : str
        What is to be seen, in words.
    """
    return html.Figure(
        [
            dcc.Store(id=figure_id(id), data=styled(figure) if figure else None),
            dcc.Graph(
                id={"type": "parts-graph", "index": id},
                config=GRAPH_CONFIG,
                responsive=True,
                style={"height": f"{height}px"},
            ),
        ],
        className="graph",
        role="img",
        style={"minHeight": f"{height}px"},
        **{"aria-label": label},
    )


def figure_id(id: str) -> dict[str, str]:
    """Return the id of the store behind a graph; its ``data`` is the figure."""
    return {"type": "parts-figure", "index": id}


def styled(figure: go.Figure) -> go.Figure:
    """Return the figure with the template of the pages."""
    return figure.update_layout(template=figure_template())


def table(
    head: Sequence[Child],
    rows: Iterable[Sequence[Child | list[Any]]],
    className: str = "",  # noqa: N803  (the name Dash gives it)
) -> html.Table:  # fmt: skip
    """Return a plain table; on a phone each row becomes a block with its headings beside it."""
    names = [h if isinstance(h, str) else getattr(h, "data-head", "") for h in head]
    body = [
        html.Tr([html.Td(cell, **{"data-head": name}) for name, cell in zip(names, row)])  # noqa: B905
        for row in rows
    ]
    return html.Table(
        [html.Thead(html.Tr([html.Th(h, scope="col") for h in head])), html.Tbody(body)],
        className=f"plain {className}".strip(),
    )


def spoken(text: str) -> html.Span:
    """Return text for those who hear the page, where the eye needs none."""
    return html.Span(text, className="spoken")


def place_href(service_point: str) -> str:
    """Return the address of a place's page; any name is safe in it.

    Examples
    --------
    >>> place_href("HD-2 a/b?")
    '/places/HD-2%20a%2Fb%3F'
    """
    return "/places/" + quote(service_point, safe="")


def link(text: str, path: str, **query: str | None) -> dcc.Link:
    """Return a link to a page of ours, with the filters it opens under."""
    given = {key: value for key, value in query.items() if value}
    return dcc.Link(text, href=path + ("?" + urlencode(given) if given else ""))


def place_link(service_point: str) -> dcc.Link:
    """Return the link to a place's page; a long name is set small."""
    size = " long" if len(service_point) > LONG_NAME else ""
    return dcc.Link(service_point, href=place_href(service_point), className=f"place{size}")


def download_links(table: str, query: Mapping[str, str] | None = None) -> html.Span:
    """Return the links that hand out a published table as CSV and XLSX."""
    tail = "?" + urlencode(query) if query else ""
    return html.Span(
        [
            html.A("CSV", href=f"/download/{table}.csv{tail}", download=""),
            " · ",
            html.A("XLSX", href=f"/download/{table}.xlsx{tail}", download=""),
        ],
        className="downloads",
    )


def with_commands(text: str) -> list[Child]:
    """Return a text whose commands, set in backticks as on a terminal, stand as such.

    Examples
    --------
    >>> with_commands("Run `braidlife load` once.")[1]
    Code('braidlife load')
    """
    return [html.Code(piece) if n % 2 else piece for n, piece in enumerate(text.split("`"))]


def problem_page(title: str, text: str, back: tuple[str, str] = ("/", "This month")) -> html.Div:
    """Return a page that says what is wrong, with a way back."""
    return html.Div(
        [headline(title), html.P(with_commands(text), className="context"),
         html.P(link(f"Go to {back[1]}", back[0]), className="ways")],
        className="page problem",
    )  # fmt: skip
