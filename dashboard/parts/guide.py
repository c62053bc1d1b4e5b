"""The blocks of the guide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html

from dashboard import parts, units
from dashboard.queries.edition import Row
from dashboard.words.guide import DECLARATIONS, DECLARED, JOURNEYS, Journey

PARTS = {"ways": "Three ways through", "words": "What the words mean",
         "methods": "How each figure is made", "goals": "How well the calculations do",
         "units": "Units", "columns": "Columns of the logs"}
"""Anchors of the page, in order."""
MET = {"met": "yes", "NOT MET": "no"}
RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def contents() -> html.Nav:
    """Return the links to the parts of the page."""
    links: list[Any] = []
    for anchor, title in PARTS.items():
        links += [" · " if links else "", html.A(title, href=f"#{anchor}")]
    return html.Nav(links, className="context", **{"aria-label": "Parts of the guide"})


def _part(anchor: str, caption: str, *children: Any) -> html.Div:
    return html.Div(parts.section(PARTS[anchor], caption, *children), id=anchor)


def ways() -> html.Div:
    """Return the three tasks, step by step."""
    return _part("ways", "From the question to something to take away.",
                 html.Div([_journey(journey) for journey in JOURNEYS], className="columns thirds"))


def _journey(journey: Journey) -> html.Div:
    steps = [html.Li([dcc.Link(step.page, href=step.href), ". ", step.words])
             for step in journey.steps]
    return html.Div([html.H3(journey.title), html.P(journey.question, className="caption"),
                     html.Ol(steps, className="steps")])


def words_meant(glossary: Sequence[Row]) -> html.Div:
    """Return what the words on the pages mean."""
    lines: list[Any] = []
    for row in glossary:
        lines += [html.Dt(row["term"]), html.Dd(row["meaning"])]
    return _part("words", "As these pages use them.", html.Dl(lines, className="glossary"))


def methods(notes: Sequence[Row], formulas: Mapping[str, list[Row]]) -> html.Div:
    """Return how each figure is made, with formulas and sources."""
    caption = ("“From memory” marks a source that was not at hand when it was named. Where a "
               "figure rests on our judgement, that is said.")
    return _part("methods", caption, *(_method(note, formulas.get(note["key"], []))
                                       for note in notes))


def _method(note: Row, formulas: Sequence[Row]) -> html.Details:
    lines = [
        html.Div([html.Code(row["formula"]), html.P(row["meaning"]),
                  html.P(f"Source: {row['source']}", className="caption")], className="formula")
        for row in formulas
    ]
    return html.Details([html.Summary(note["title"]), html.P(note["words"]), *lines],
                        className="method", id=f"method-{note['key']}")


def goals(rows: Sequence[Row]) -> html.Div:
    """Return the goals of the calculations with the figures measured."""
    caption = ("Measured with this version, on invented fleets whose truth is known.")
    said = html.P("Speed is counted in EXP(N): the time in which the same machine works out one "
                  "exponential for each of the N lives, so that machines compare. A narrow run "
                  "does without the processor's widest instructions, with which exponentials "
                  "alone get several times faster. Shares from quick runs carry a chance error "
                  "of a few hundredths.", className="caption")
    n_wanted = sum(row["word"] != "-" for row in rows)
    n_met = sum(row["word"] == "met" for row in rows)
    head = ("What was measured", "Figure", "Wanted", "Met", "Run")
    lines = [[row["what"], figure(row["figure"]), wanted(row["wanted"]),
              MET.get(row["word"], ""), row["run"]] for row in rows]
    return _part("goals", caption, html.Details([
        html.Summary(f"{n_met} of {n_wanted} figures with a goal meet it"),
        said, parts.table(head, lines, "goals")], className="method"))


def figure(text: str) -> str:
    """Return a figure as it is read: thousands set apart, tiny ones as a power of ten.

    Examples
    --------
    >>> figure("1.325e+04"), figure("2.868e-10"), figure("0.3367"), figure("1e-06")
    ('13,250', '2.9 × 10⁻¹⁰', '0.3367', '10⁻⁶')
    """
    value = float(text)
    if value and abs(value) < 1e-3:
        first, power = f"{value:.1e}".split("e")
        raised = str(int(power)).translate(RAISED)
        return f"10{raised}" if first == "1.0" else f"{first} × 10{raised}"
    return f"{value:,.0f}" if abs(value) >= 1000.0 else f"{value:g}"


def wanted(text: str) -> str:
    """Return what a figure is wanted to be, in words.

    Examples
    --------
    >>> wanted("<= 12"), wanted(">= 2000"), wanted("18 to 18"), wanted("0.8 to 1"), wanted("")
    ('at most 12', 'at least 2,000', '18', '0.8 to 1', 'no goal')
    """
    low, _, high = text.partition(" to ")
    if high:
        return figure(low) if low == high else f"{figure(low)} to {figure(high)}"
    sign, _, value = text.partition(" ")
    return f"at {'most' if sign == '<=' else 'least'} {figure(value)}" if value else "no goal"


def unit_choice() -> html.Div:
    """Return how units are chosen, and by which factors they are turned."""
    said = html.P([
        "Pages, figures and tables taken away are in ",
        html.A("SI units with bar and °C", href="?units=si"), " or in ",
        html.A("US customary units", href="?units=us"),
        ". The choice stands at the top of each page, is kept by this browser, and is part of the "
        "address, so that a link sent from a page in US customary units opens the same view. Lives "
        "stay in days, or run hours or cycles where these count. Each heading of a table taken "
        "away ends in its unit. A file's own units are declared when it is loaded; rows shown as "
        "loaded, and corrections to them, keep the units of the log.",
    ])
    rows = [
        [units.WRITTEN.get(stored, stored), units.WRITTEN.get(shown, shown),
         _factor(units.conversion(stored, "us")), units.conversion(stored, "us").source]
        for stored, shown in units.US.items()
    ]
    head = ("Stored in", "Or shown in", "One of it is", "Source of the factor")
    return _part("units", "One table of factors serves loading and showing.", said,
                 parts.table(head, rows, "units"))


def _factor(how: units.Conversion) -> str:
    if how.offset:
        return f"{how.factor:.6g}, and 32 °F is 0 °C"
    return f"{how.factor:.8g}"


def columns(logs: Mapping[str, Sequence[Row]]) -> html.Div:
    """Return the columns that each log may have."""
    head = ("Column", "Kind", "Meaning")
    blocks = [
        html.Details([
            html.Summary(f"{log} · {len(rows)} columns"),
            parts.table(head, [_column(row) for row in rows], "log-columns"),
        ], className="method")
        for log, rows in logs.items()
    ]
    caption = "A star marks what a log cannot do without. Other names are mapped in columns.toml."
    return _part("columns", caption, *blocks, _declared())


def _declared() -> html.Details:
    """Return how what no log says is declared."""
    return html.Details([
        html.Summary("Renamed places and swapped hoses"),
        html.P(DECLARED, className="wide"), html.Pre(html.Code(DECLARATIONS))], className="method")


def _column(row: Row) -> list[Any]:
    star = "*" if row["is_required"] else ""
    unit = f", {row['unit']}" if row["unit"] else ""
    known = f" ({row['words']})" if row["words"] else ""
    return [html.Code(row["column_name"] + star), row["kind"] + unit, row["meaning"] + known]
