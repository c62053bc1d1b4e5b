"""Hoses whose record was begun, and failed ones that nobody has taken apart yet."""

from __future__ import annotations

import datetime as dt

from dash import html

from dashboard import actions, parts, words
from dashboard.queries import record as asked
from dashboard.queries.edition import Row
from dashboard.record.view import record_link

MOST = 12
FIRST = 6
"""Hoses that stand there unfolded."""


def blocks() -> html.Div | None:
    """Return both lists beside each other; nothing where nothing can be entered."""
    if actions.why_not() is not None:
        return None
    records = actions.begun()
    busy = {(hose.hose_id, hose.service_point, hose.removed_on) for hose, _ in records}
    rows = [row for row in asked.waiting(MOST)
            if (row["hose_id"] or "", row["service_point"], row["removed_on"].isoformat())
            not in busy]
    shown = [block for block in (_begun(records), _waiting(rows)) if block is not None]
    return html.Div(shown, className="columns halves" if len(shown) == 2 else None)


def _begun(records: list[tuple[actions.Hose, actions.Record]]) -> html.Section | None:
    """Return the records that wait to be finished; nothing where none does."""
    items = [html.Li([
        html.Div([record_link(hose.hose_id or "hose without a tag", hose.hose_id or None,
                              hose.service_point or None, _day(hose.removed_on)),
                  html.Span(words.count(len(record.answers), "answer"))], className="row"),
        html.Div([parts.place_link(hose.service_point), f" by {record.examiner}, examined "
                  f"{words.date(_day(record.examined_on))}"], className="below"),
    ]) for hose, record in records[:MOST]]
    if not items:
        return None
    return parts.section("Begun and not confirmed", "Each goes on where it stopped.",
                         html.Ul(items, className="list"))


def _waiting(rows: list[Row]) -> html.Section | None:
    """Return the latest failures whose hose nobody has taken apart; nothing where none is."""
    if not rows:
        return None
    items = [_item(row) for row in rows]
    older = html.Details([html.Summary(f"{len(items) - FIRST} earlier ones"),
                          html.Ul(items[FIRST:], className="list in-two")], className="fold")
    return parts.section(
        "Not taken apart yet", "The latest failures. Open one to record what is found.",
        html.Ul(items[:FIRST], className="list in-two"), older if len(items) > FIRST else None)


def _item(row: Row) -> html.Li:
    concluded = "" if row["mechanism"] in (None, "unknown") else (
        f" · {words.mechanism(row['mechanism'])}")
    out = words.kept(f"out {words.date(row['removed_on'])}")
    return html.Li([
        html.Div([record_link(row["hose_id"] or "hose without a tag", row["hose_id"],
                              row["service_point"], row["removed_on"]),
                  *parts.hazards(row["hazards"])]),
        html.Div([parts.place_link(row["service_point"]), f" {out}{concluded}"],
                 className="below"),
    ])  # fmt: skip


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def not_apart(stay: Row) -> html.Div:
    """Return the page of a hose that has no teardown: where it was, and the way to its record."""
    out = "still in service" if stay["removed_on"] is None else (
        f"out {words.date(stay['removed_on'])}")
    return html.Div([
        parts.headline(parts.strong(stay["hose_id"]), " has not been taken apart."),
        html.P([parts.place_link(stay["service_point"]), f" · {out}"], className="context"),
        record_link("Begin its record", stay["hose_id"], stay["service_point"], stay["removed_on"])
        if stay["removed_on"] is not None
        else parts.link("Go to all teardowns", "/teardown"),
    ], className="page problem")  # fmt: skip
