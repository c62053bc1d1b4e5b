"""Teardown: what the findings on hoses taken apart suggest, and the evidence of one hose."""

from __future__ import annotations

import datetime as dt
from typing import Any

import dash
from dash import html

from dashboard import parts, words
from dashboard.parts import unfilled
from dashboard.parts.teardown import begun as parts_teardown_begun
from dashboard.parts.teardown import one as parts_teardown_one
from dashboard.parts.teardown import told as parts_teardown
from dashboard.queries import edition
from dashboard.queries import record as asked_record
from dashboard.queries import teardown as asked
from dashboard.queries.edition import Row

dash.register_page(
    __name__, path="/teardown", name="Teardown", order=5, title="Teardown · Braidlife")
MOST = 40
FIRST = 12
"""Teardowns that stand there unfolded."""


def layout(
    hose: str | None = None, place: str | None = None, removed: str | None = None, **_: Any
) -> html.Div:
    """Return the list of teardowns, or the evidence of the hose that the address names."""
    now = edition.info()
    if not (hose or place or removed):
        return _list(now)
    day = _day(removed)
    rows = [] if removed and day is None else asked.one(hose, place, day)
    if not rows:
        return _none(hose, place, day)
    return parts_teardown_one.one(now, rows)


def _none(hose: str | None, place: str | None, day: dt.date | None) -> html.Div:
    """Say that a hose has no teardown; where it was is told, and its record can be begun."""
    stay = asked_record.life(hose, place, day) if hose else None
    if stay is None:
        return parts.problem_page("There is no teardown of this hose.",
                                  "The address is incomplete, or the log has changed since.",
                                  ("/teardown", "all teardowns"))  # fmt: skip
    return parts_teardown_begun.not_apart(stay)


def _day(text: str | None) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError:
        return None


def _list(now: Row) -> html.Div:
    counts = asked.counts()
    rows = asked.latest(MOST)
    body: list[Any] = [parts_teardown.listing(rows[:FIRST])]
    if len(rows) > FIRST:
        body.append(html.Details([html.Summary(f"{len(rows) - FIRST} earlier ones"),
                                  parts_teardown.listing(rows[FIRST:])], className="fold"))
    caption = [f"The latest {len(rows):,} of {counts['n']:,}. " if len(rows) < counts["n"] else "",
               "Supported: the leading mechanism is well ahead and enough of what bears on it was "
               "looked at; suspected: not yet. Vibration is concluded only by exclusion and with a "
               "positive sign. ",
               parts.download_links("teardown_evidence")]  # fmt: skip
    return html.Div([
        parts.headline(*parts_teardown.sentence(counts)),
        parts.context_line(
            counts["basis"], parts_teardown.counted_words(counts["n_counted"]),
            f"data to {words.date(now['as_of'])}"),
        parts_teardown_begun.blocks(),
        parts.section("Hoses taken apart", caption, *body, how=parts_teardown_one.how(now))
        if rows else unfilled.block("teardown"),
        _vocabulary(),
        parts.caution(*parts_teardown.CAUTION_TEARDOWN),
    ], className="page")  # fmt: skip


def _vocabulary() -> html.Section | None:
    """Return the names of findings, so that the log and this page speak alike."""
    rows = asked.vocabulary()
    if not rows:
        return None
    caption = [
        "One row a finding in the teardowns log; value “no” where it was looked for and not there, "
        "and finding “mechanism” with what was concluded. What is left out counts as not checked: "
        "the same checklist on every hose teaches most. ",
        parts.download_links("finding_vocabulary"),
    ]  # fmt: skip
    return parts.section("What to look for", caption, *parts_teardown.vocabulary(rows))
