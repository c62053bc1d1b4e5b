"""The blocks of the page of one place, each with the question it asks."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.parts.kind import recurrence
from dashboard.parts.place import evidence
from dashboard.parts.place import told as parts_place
from dashboard.queries import edition
from dashboard.queries import place as asked
from dashboard.queries.edition import Row
from dashboard.timeline import timeline

UNFOLDED = 12
"""Rows as loaded that are shown at once."""

NEXT_STEP = {
    "words": "The first of these that fits the place: a change that a rule demands and is due; "
    "failures soon after fitting; where it fails faster than like places, what its main mechanism "
    "calls for, or a trial; a planned change within 90 days; a hose far likelier to fail soon than "
    "a new one; the mechanism of half its failures; another kind of hose where it is dear. The "
    "words beside the step give the figures it rests on."
}


def hoses(now: Row, place: Row, stays: list[Row]) -> html.Section:
    """Return every hose of the place on a time axis."""
    if not stays:
        return parts.section("Hoses at this place", "", parts.empty(
            "no hose with a known installation is on record"))  # fmt: skip
    caption = (
        "One block a hose. Heavy end mark: failed; dashed: found failed, shaded since the last "
        "good look; thin: planned; grey: no reason recorded; pointed: in service."
    )
    mark = parts.how(edition.method("stays"), "Every installation and removal below.", now["as_of"])
    drawn = timeline(stays, now["as_of"], place["records_from"])
    table = evidence.hose_table(stays, now["currency"])
    return parts.section("Hoses at this place", caption, drawn, table, how=mark)


def survival(now: Row, place: Row, stays: list[Row]) -> html.Section:
    """Return survival here against like places."""
    title, curve = "Still running after so many days", asked.like_curve(place["service_point"])
    own = asked.own_curve(place["service_point"])
    if not curve:
        return parts.section(title, "", parts.empty(
            "too little is known: no like hose of this construction on record"))  # fmt: skip
    like = words.evidence(curve[0]["n_failures"], curve[0]["n_suspensions"])
    caption = (
        f"Like places, same construction: {like}; band and dots = 90 % ranges. This place: the "
        "same law at its own rate of failing; ticks are failures seen here."
    )
    behind = ["Hoses of this class and construction: ", parts.download_links("life_curves"),
              "; this place: ", parts.download_links("place_survival")]  # fmt: skip
    mark = parts.how(edition.method("survival_here"), behind, now["as_of"])
    return parts.section(title, caption, evidence.survival(place, curve, own, stays), how=mark)


def against(now: Row, place: Row) -> html.Div:
    """Return the place among like places, and how its failures ended."""
    peers = asked.peers(place)
    seen, expected = place["observed_failures"], place["failures_expected_so_far"]
    nothing = "no like place to compare with" if place["n_lives"] else "no hose to judge by"
    known = bool(place["relative_rate"] and place["n_lives"] and place["n_peers"])
    caption = "" if expected is None or not known else (
        f"{seen:,} failed where {words.number(expected)} were expected. Dots: like places. The "
        "rate is drawn towards 1 where little is known."
    )  # fmt: skip
    strip = evidence.strip(place, peers) if known else parts.empty(nothing)
    mark = parts.how(edition.method("relative_rate"), parts.download_links("ranking"), now["as_of"])
    ended = asked.mechanisms(place["service_point"])
    how_ended = parts.how(edition.method("teardown_evidence"),
                          parts.download_links("teardown_evidence"), now["as_of"])
    return html.Div([
        parts.section("Against like places", caption, strip, how=mark),
        parts.section("How the failures here ended",
                      "As concluded; where nobody did, as a sure teardown shows."
                      + parts_place.uncounted(sum(row["n_uncounted"] for row in ended)),
                      evidence.mechanism_bars(ended), how=how_ended),
    ])  # fmt: skip


def next_step(now: Row, place: Row) -> html.Section:
    """Return what to do next, and the cautions beside it."""
    steps = parts_place.next_steps(place, now["currency"])
    caption = "A suggestion for a qualified person."
    mark = parts.how(NEXT_STEP, parts.download_links("ranking"), now["as_of"])
    return parts.section("What to do next", caption, steps, *parts_place.cautions(place), how=mark)


def on_line(name: str, now: Row) -> html.Section | None:
    """Return the neighbours on the line."""
    rows = asked.on_line(name)
    if not rows:
        return None
    caption = "Each against like places of its own class; the dearest first."
    mark = parts.how(edition.method("relative_rate"), parts.download_links("ranking"), now["as_of"])
    return parts.section("On the same line", caption, evidence.line_table(rows), how=mark)


def recurring(name: str, now: Row) -> list[Any]:
    """Return how failures add up at the machine and on its line, where that has more places."""
    mark = parts.how(edition.method("recurrence"), parts.download_links("group_trends"),
                     now["as_of"])
    blocks = []
    for trend, curve in asked.recurring(name):
        whose = "machine" if trend["scope"] == "equipment" else "line"
        blocks.append(recurrence.shown(
            f"place-adding-up-{trend['scope']}", f"How failures add up at {trend['scope_name']}",
            f"All places of this {whose}, of whatever class, whatever they fail by.",
            curve, trend, mark))
    return blocks


def loaded(name: str) -> html.Section:
    """Return the rows behind everything on this page, the older ones folded away."""
    rows, n = asked.rows_as_loaded(name)
    if not rows:
        return parts.section("Rows as loaded", "", parts.empty("no row names this place"))
    caption: list[Any] = [
        f"{words.count(n, 'row')}, newest first, without those that only repeat an earlier one."
        " All of them: ",
        parts.download_links("rows_as_loaded", {"place": name}),
    ]
    older = None
    if len(rows) > UNFOLDED:
        more = f"{words.count(len(rows) - UNFOLDED, 'earlier row')}"
        more += "" if len(rows) == n else "; " + words.count(
            n - len(rows), "older one is in the files above", "older ones are in the files above")
        folded = evidence.rows_table(rows[UNFOLDED:])
        older = html.Details([html.Summary(more), folded], className="fold")
    return parts.section("Rows as loaded", caption, evidence.rows_table(rows[:UNFOLDED]), older)
