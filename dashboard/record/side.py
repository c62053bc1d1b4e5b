"""What stands beside a teardown record: what the findings suggest so far, what to look at next."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, units, words
from dashboard.actions import Running
from dashboard.parts.teardown import one
from dashboard.parts.teardown import told as parts_teardown
from dashboard.queries import edition
from dashboard.queries.edition import Row
from dashboard.record.screens import send
from dashboard.record.view import LOOK, View
from dashboard.words.record import CAUTION_BESIDE, EXCLUSION


def sentence(view: View) -> list[Any]:
    """Return which hose, and how far its record is."""
    name = view.stay["hose_id"] or "The hose without a tag"
    n, total = len(view.record.answers), len(view.findings)
    if view.record.is_closed:
        return [parts.strong(name), ": the record is confirmed, ",
                f"{n:,} of {words.count(total, 'finding')} answered."]
    if not view.record.n_entries:
        return ["Take ", parts.strong(name), " apart with care, and write down what you see."]
    return [parts.strong(name), f": {n:,} of {words.count(total, 'finding')} answered. It goes on "
            "where it stopped."]


def side(view: View, told: Running) -> html.Div:
    """Return the running suggestion.

    Parameters
    ----------
    view : View
    told : Running
        What the findings of the view suggest.
    """
    first = told.leaders[0]
    n = len(view.findings)
    there = f"{told.n_present:,}" if told.n_present else "none"
    caption = [f"{told.n_checked:,} of {words.count(n, 'finding')} checked, {there} "
               f"there; {told.basis}."]
    body: list[Any] = [parts.empty("Nothing found speaks for any mechanism yet.")]
    if first["level"] != "nothing found":
        body = [html.Ol([_leader(row) for row in told.leaders], className="list leaders-so-far")]
    points = _split(first["open_points"]) if first["level"] != "nothing found" else []
    keeps = [html.Details([html.Summary("What keeps it from a higher level"), html.Ul(
        [html.Li(text) for text in points], className="list")], className="fold")] if points else []
    return html.Div([
        parts.section("What the findings suggest so far", caption, *body, *keeps,
                      how=one.how(edition.info())),
        _next(view, told),
        parts.caution(*EXCLUSION),
        parts.caution(*CAUTION_BESIDE),
    ])  # fmt: skip


def _leader(row: Any) -> html.Li:
    level = f", {parts_teardown.LEVELS[row['level']]}" if row["level"] else ""
    return html.Li([
        html.Div([html.Strong(words.mechanism(row["mechanism"])),
                  html.Span(f"{words.percent(row['probability'])}{level}")], className="row"),
        html.Div(f"{words.percent(row['coverage'])} of what bears on it was answered",
                 className="below"),
        _said("For", row["speaks_for"]), _said("Against", row["speaks_against"]),
    ])  # fmt: skip


def _said(lead: str, text: str | None) -> html.Div:
    told = "; ".join(_split(text)) if text else "nothing on record"
    return html.Div([html.B(f"{lead}: "), told], className="below")


def _split(text: str | None) -> list[str]:
    return text.split("; ") if text else []


def _next(view: View, told: Running) -> html.Section | None:
    """Return what to look at next, each with the way to its question."""
    rows: list[Row] = [view.findings[name] for name in told.next_findings
                       if name in view.findings]
    if view.record.permit is None or view.record.is_closed or not rows:
        return None
    items = [html.Li(send(f"{units.sentence(row['words'])} ({row['looked_at']})", "go",
                          LOOK + row["finding"], kind="quiet")) for row in rows]
    return parts.section("Look at next", "What is expected to tell most for its effort.",
                         html.Ul(items, className="list"))
