"""The guide: three ways through the pages, words, methods with their sources, columns."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts, words
from dashboard.parts import guide as parts_guide
from dashboard.queries import guide as asked

dash.register_page(__name__, path="/guide", name="Guide", order=11, title="Guide · Braidlife")


def layout(**_: Any) -> html.Div:
    """Return the whole guide; it needs no other machine."""
    glossary, notes = asked.glossary(), asked.methods()
    return html.Div(
        [
            parts.headline("Every number here can be followed to the log rows it came from; ",
                           "this is ", parts.strong("how to read them"), "."),
            parts_guide.contents(),
            parts_guide.ways(),
            parts_guide.words_meant(glossary),
            parts_guide.methods(notes, asked.formulas()),
            parts_guide.goals(asked.goals()),
            parts_guide.unit_choice(),
            parts_guide.columns(asked.log_columns()),
            parts.caution(*words.CAUTION_FORECAST),
        ],
        className="page",
    )
