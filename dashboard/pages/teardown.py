"""Teardown: what the findings on hoses taken apart suggest, and the evidence of one hose."""

from __future__ import annotations

import datetime as dt
from typing import Any

import dash
from dash import html

from dashboard import parts, parts_teardown, words
from dashboard.queries import edition
from dashboard.queries import teardown as asked
from dashboard.queries.edition import Row

dash.register_page(
    __name__, path="/teardown", name="Teardown", order=5, title="Teardown · Braidlife")
MOST = 40


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
        return parts.problem_page("There is no teardown of this hose.",
                                  "The address is incomplete, or the log has changed since.",
                                  ("/teardown", "all teardowns"))  # fmt: skip
    return _one(now, rows)


def _day(text: str | None) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError:
        return None


def _list(now: Row) -> html.Div:
    counts = asked.counts()
    rows = asked.latest(MOST)
    body = parts_teardown.listing(rows) if rows else parts.empty(
        "no hose taken apart is on record: a teardowns log with one finding a row says here what "
        "each suggests")  # fmt: skip
    caption = [f"The latest {len(rows):,} of {counts['n']:,}. " if len(rows) < counts["n"] else "",
               "Vibration is concluded only by exclusion and with a positive sign. ",
               parts.download_links("teardown_evidence")]  # fmt: skip
    return html.Div([
        parts.headline(*parts_teardown.sentence(counts)),
        parts.context_line(
            counts["basis"], words.count(counts["n_counted"], "failure") + " without a concluded "
            "mechanism counted as its teardown suggests", f"data to {words.date(now['as_of'])}"),
        parts.section("Hoses taken apart", caption, body, how=_how(now)),
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


def _one(now: Row, rows: list[Row]) -> html.Div:
    first = rows[0]
    name = first["hose_id"] or "The hose without a tag"
    place = first["service_point"]
    level = parts_teardown.LEVELS[first["level"]]
    said: list[Any] = [parts.strong(name), ": "]
    if first["level"] == "nothing found":
        said.append(f"{level}.")
    else:
        said += [parts.strong(words.mechanism(first["mechanism"])),
                 f" {level}, {words.percent(first['probability'])} likely by its findings."]
    nothing_open = "nothing: it is as sure as findings make it"
    unread = f"{words.count(first['n_unread'], 'finding')} in words we do not know"
    return html.Div([
        html.P([parts.link("All teardowns", "/teardown"), " · ",
                parts.place_link(place) if place else "place not known"], className="lead"),
        parts.headline(*said),
        parts.context_line(
            f"out {words.date(first['removed_on'])}",
            f"examined {words.date(first['examined_on'])}",
            words.count(first["n_checked"], "finding") + " checked",
            unread if first["n_unread"] else None,
            f"people concluded: {parts_teardown.concluded(first)}"),
        parts.section("What the findings say", first["basis"], parts_teardown.leaders(rows),
                      how=_how(now)),
        html.Div([
            parts.section("What keeps it from a higher level", "", html.Ul(
                [html.Li(text) for text in first["open_points"] or [nothing_open]],
                className="list")),
            parts.section("Look at next", "What is expected to tell most for its effort.", html.P(
                html.Strong(first["next_check"] or parts_teardown.ALL_ANSWERED))),
        ], className="columns halves"),
        _remedies(first),
        parts.caution(*parts_teardown.CAUTION_TEARDOWN),
    ], className="page")  # fmt: skip


def _remedies(first: Row) -> html.Section | None:
    """Return what may be tried, once a mechanism is at least suspected."""
    if first["level"] == "nothing found":
        return None
    mechanism = first["mechanism"]
    return parts.section(
        f"What may be tried against {words.mechanism(mechanism)}", "",
        parts_teardown.remedies(asked.countermeasures(mechanism)),
        parts.caution(*parts_teardown.CAUTION_REMEDY))


def _how(now: Row) -> html.Details:
    behind = ["Every teardown: ", parts.download_links("teardown_evidence")]
    return parts.how(edition.method("teardown_evidence"), behind, now["as_of"])
