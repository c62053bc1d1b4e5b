"""Why hoses fail at a place: what teardowns show, and what rough physics asks."""

from __future__ import annotations

from dash import html

from dashboard import parts, words
from dashboard.parts.teardown import told as parts_teardown
from dashboard.queries import edition
from dashboard.queries import teardown as asked
from dashboard.queries.edition import Row

MOST = 8
"""Teardowns of one place that are shown; the others stand in the download."""


def teardowns(now: Row, name: str) -> html.Section | None:
    """Return what the hoses taken apart here suggest; nothing where none was."""
    rows = asked.of_place(name, MOST)
    if not rows:
        return None
    caption = ["What the findings on hoses from here suggest, newest first. ",
               parts.link("All teardowns", "/teardown")]  # fmt: skip
    mark = parts.how(edition.method("teardown_evidence"),
                     ["Every teardown: ", parts.download_links("teardown_evidence")],
                     now["as_of"])  # fmt: skip
    return parts.section("What teardowns show", caption,
                         parts_teardown.listing(rows, with_place=False), how=mark)  # fmt: skip


def screens(now: Row, name: str) -> html.Section | None:
    """Return the physical screens, folded away: they raise questions and clear nothing."""
    rows = asked.screens(name)
    if not rows:
        return None
    n = len({row["screen"] for row in rows})
    mark = parts.how(edition.method("screens"),
                     ["Every place: ", parts.download_links("place_screens")],
                     now["as_of"])  # fmt: skip
    folded = html.Details([html.Summary(words.count(n, "screen")), parts_teardown.screens(rows)],
                          className="fold")  # fmt: skip
    caption = ["Register, latest look and catalogue against published lines. They rank, never "
               "clear. ", parts.link("Work out more", "/physics", place=name)]
    return parts.section("Rough physics", caption, folded, how=mark)
