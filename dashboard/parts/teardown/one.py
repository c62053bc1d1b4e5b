"""What the findings on one hose say: mechanisms for and against, what is open, what to try."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, units, words
from dashboard.parts.teardown import told as parts_teardown
from dashboard.queries import edition
from dashboard.queries import teardown as asked
from dashboard.queries.edition import Row
from dashboard.record.view import record_link


def one(now: Row, rows: list[Row]) -> html.Div:
    """Return the page of one hose that was taken apart."""
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
            f"people concluded: {parts_teardown.concluded(first)}",
            record_link("its record", first["hose_id"], place, first["removed_on"]),
            parts.link("rough physics of the place", "/physics", place=place) if place else None),
        parts.section("What the findings say", first["basis"], parts_teardown.leaders(rows),
                      how=how(now)),
        html.Div([
            parts.section("What keeps it from a higher level", "", html.Ul(
                [html.Li(text) for text in first["open_points"] or [nothing_open]],
                className="list")),
            parts.section("Look at next", "What is expected to tell most for its effort.", html.P(
                html.Strong(units.sentence(first["next_check"]) or parts_teardown.ALL_ANSWERED))),
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


def how(now: Row) -> html.Details:
    """Return the mark that says how a suggestion is known."""
    behind = ["Every teardown: ", parts.download_links("teardown_evidence")]
    return parts.how(edition.method("teardown_evidence"), behind, now["as_of"])
