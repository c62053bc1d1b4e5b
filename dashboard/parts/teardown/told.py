"""Teardown evidence in words: the list, one hose, what to try, the screens of a place."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from dash import html

from dashboard import parts, units, words
from dashboard.queries.edition import Row

LEVELS = {
    "nothing found": "nothing found speaks for any mechanism",
    "suspected": "suspected", "supported": "supported", "confirmed": "confirmed",
}  # fmt: skip
ALL_ANSWERED = "all that was asked is answered"
CAUTION_TEARDOWN = (
    "Before a hose is loosened or cut:",
    "depressurise, drain, cool, isolate and lock out, prove zero energy, and know the last "
    "medium: it may be hot, toxic or flammable. Old lagging may hold asbestos. Never pressurise a "
    "hose with found damage. Local codes and licensed practice come first.",
)
CAUTION_REMEDY = (
    "Suggestions for a qualified person,",
    "not instructions: rating at temperature, bend, ends and alloy of anything changed must be "
    "confirmed by the maker and by whoever is licensed to. A safety fix is made everywhere at "
    "once, never trialled.",
)


def sentence(counts: Row) -> list[Any]:
    """Return how many teardowns there are and how far they settle the mechanism."""
    if not counts["n"]:
        return ["No hose taken apart is on record."]
    agree = ""
    if counts["n_logged"]:
        agree = (f" Where people concluded a mechanism, the findings put the same one first in "
                 f"{counts['n_agree']:,} of {counts['n_logged']:,}.")
    return [
        parts.strong(words.count(counts["n"], "hose")), " taken apart: the findings support a "
        "mechanism in ", parts.strong(f"{counts['n_supported']:,}"),
        f" and leave one suspected in {counts['n_suspected']:,}.{agree}",
    ]  # fmt: skip


def counted_words(n: int) -> str | None:
    """Return how many failures count as their teardown suggests; nothing where none does.

    Examples
    --------
    >>> counted_words(1), counted_words(0)
    ('1 failure without a concluded mechanism counted as its teardown suggests', None)
    """
    if not n:
        return None
    whose = "its teardown suggests" if n == 1 else "their teardowns suggest"
    return f"{words.count(n, 'failure')} without a concluded mechanism counted as {whose}"


def hose_link(row: Row) -> Any:
    """Return the link to the evidence of one hose."""
    removed = row["removed_on"].isoformat() if row["removed_on"] else None
    return parts.link(row["hose_id"] or "hose without a tag", "/teardown", hose=row["hose_id"],
                      place=row["service_point"], removed=removed)  # fmt: skip


def suggestion(row: Row) -> list[Any]:
    """Return the leading mechanism with its chance and level."""
    if row["level"] == "nothing found":
        return [html.Span(LEVELS["nothing found"], className="absent")]
    said = f"{words.percent(row['probability'])}, {LEVELS[row['level']]}"
    return [html.Strong(words.mechanism(row["mechanism"])), html.Div(said, className="below")]


def concluded(row: Row) -> str:
    """Return what people concluded, or how the failure counts without that.

    Examples
    --------
    >>> concluded({"logged_mechanism": "braid_wear", "is_counted": False})
    'braid wear'
    >>> concluded({"logged_mechanism": None, "is_counted": True})
    'nothing; counted as the findings suggest'
    """
    if row["logged_mechanism"]:
        return words.mechanism(row["logged_mechanism"])
    return "nothing; counted as the findings suggest" if row["is_counted"] else "nothing"


def listing(rows: Sequence[Row], with_place: bool = True) -> html.Table:
    """Return teardowns, each with what its findings suggest."""
    head = ["Hose", "Examined", "Findings suggest", "People concluded", "Look at next"]
    body = [[
        html.Div([hose_link(row), _where(row) if with_place else None]),
        html.Div([words.date(row["examined_on"]),
                  html.Div(words.count(row["n_checked"], "finding"), className="below")]),
        html.Div(suggestion(row)), concluded(row),
        units.sentence(row["next_check"]) or ALL_ANSWERED,
    ] for row in rows]  # fmt: skip
    return parts.table(head, body, "teardowns")


def _where(row: Row) -> html.Div:
    place = row["service_point"]
    at = parts.place_link(place) if place else "place not known"
    out = f" {words.kept('out ' + words.date(row['removed_on']))}" if row["removed_on"] else ""
    return html.Div([at, out], className="below")


def leaders(rows: Sequence[Row]) -> html.Table:
    """Return the leading mechanisms with what speaks for and against each."""
    head = ["Mechanism", "Chance", "Answered of what bears on it", "Speaks for", "Speaks against"]
    return parts.table(head, [[
        html.Strong(words.mechanism(row["mechanism"])), words.percent(row["probability"]),
        words.percent(row["coverage"]), _listed(row["speaks_for"]), _listed(row["speaks_against"]),
    ] for row in rows], "leaders")  # fmt: skip


def _listed(texts: Sequence[str] | None) -> Any:
    if not texts:
        return html.Span("nothing on record", className="absent")
    return units.sentence("; ".join(texts))


def remedies(rows: Sequence[Row]) -> Any:
    """Return what may be tried against a mechanism, with side effects and source."""
    if not rows:
        return parts.empty("no countermeasure is on our list for this mechanism")
    head = ["To try", "Why", "As a trial", "Side effects", "Source"]
    return parts.table(head, [[
        html.Strong(row["countermeasure"]), row["why"], row["trial_value"], row["side_effects"],
        row["source"] if row["status"] == "no source" else f"{row['source']} ({row['status']})",
    ] for row in rows], "remedies")  # fmt: skip


def vocabulary(rows: Sequence[Row]) -> list[html.Details]:
    """Return what may be looked for, folded by where it is looked for."""
    head = ["Name in the log", "What is seen", "Speaks for", "Speaks against"]
    return [html.Details([
        html.Summary(f"{where[:1].upper()}{where[1:]}: {words.count(len(found), 'finding')}"),
        parts.table(head, [[
            row["finding"], units.sentence(row["words"]), _mechanisms(row["speaks_for"]),
            _mechanisms(row["speaks_against"]),
        ] for row in found], "vocabulary"),
    ], className="fold") for where, group in groupby(rows, key=lambda row: row["looked_at"])
        for found in [list(group)]]


def _mechanisms(names: Sequence[str] | None) -> str:
    return ", ".join(words.mechanism(name) for name in names or ()) or "none"


def screens(rows: Sequence[Row]) -> html.Div:
    """Return the physical screens of a place, each with what it cannot tell."""
    shown = []
    for _, group in groupby(rows, key=lambda row: row["screen"]):
        same = list(group)
        first = same[0]
        said = units.text(first["value"], first["unit"], 3)
        if first["lower"] is not None and first["upper"] is not None:
            said += f" ({units.spread(first['lower'], first['upper'], first['unit'])})"
        shown.append(html.Li([
            html.Div([html.Strong(first["title"]), html.Span(said)], className="row"),
            *(html.Div(_line(row), className="below") for row in same),
            html.Div(f"What it leaves open: {first['cannot_tell']}.", className="below"),
        ]))  # fmt: skip
    return html.Div(html.Ul(shown, className="list"))


def _line(row: Row) -> str:
    """Return one comparison in words."""
    said = (f"{row['compared_with']}: {units.text(row['limit_value'], row['unit'], 3)} "
            f"({row['source']}; {row['status']})")
    if row["screen"] != "frequency":
        said += f"; here {words.number(row['ratio'])} times that"
    if row["rank"] is not None:
        said += f"; number {row['rank']:,} of {words.count(row['n_ranked'], 'measured place')}"
    return said
