"""Vibration: which construction takes how much of it, for how long, by the plant's own records."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts import unfilled
from dashboard.parts import vibration as parts_vibration
from dashboard.queries import edition
from dashboard.queries import teardown as cause
from dashboard.queries import vibration as asked
from dashboard.words import vibration as told

dash.register_page(__name__, path="/vibration", name="Vibration", order=4,
                   title="Vibration · Braidlife")  # fmt: skip
PATH = "/vibration"


def layout(**query: Any) -> html.Div:
    """Return the page for the application class and the place of the address."""
    info, fleet = edition.info(), asked.summary()
    if fleet is None or fleet["status"] != "estimated":
        return nothing_yet(fleet["words"] if fleet else "Nothing is on record.")
    wanted = str(query.get("place") or "")
    row = asked.place(wanted) if wanted else None
    options = {item["application_class"]: item["application_class"] for item in asked.classes()}
    asked_for = row["application_class"] if row else query.get("class")
    group, is_known = parts_choice.allowed(asked_for, options)
    names = [item["service_point"] for item in asked.places(group)]
    name = wanted or (names[0] if names else "")
    row = row or (asked.place(name) if name and not wanted else None)
    counts = asked.constructions()

    def how(key: str, table: str) -> html.Details:
        lines = ["All rows: ", parts.download_links(table)]
        return parts.how(edition.method(key), lines, info["as_of"])

    faster, span = told.sentence(fleet)
    return html.Div(
        [
            parts.headline("Where it shakes twice as hard, hoses live ", parts.strong(faster),
                           f" ({span})."),
            parts.context_line(*told.context(fleet), f"data to {words.date(info['as_of'])}"),
            parts_choice.choice("Class", "class", options, group, PATH, {}),
            None if is_known else parts.empty("No such class vibrates; the first one is shown."),
            parts_vibration.maps(asked.cells(group), asked.dots(group), counts,
                                 how("vibration_map", "vibration_cells")),
            html.Div([
                parts_vibration.curves(asked.curves(group), group,
                                       how("vibration", "vibration_lives")),
                parts_vibration.place(
                    row, wanted, asked.choices(name), parts_vibration.finder(names, group, name),
                    how("vibration_choice", "vibration_choices")),
            ], className="columns halves"),
            parts.caution(*told.CAUTION),
            parts_vibration.constructions(counts, how("vibration", "vibration_constructions")),
            parts_vibration.doubts(
                fleet, asked.errors(), how("vibration", "vibration_lives")),
            parts_vibration.screens(cause.screens(name), name, how("screens", "place_screens")),
        ],
        className="page",
    )  # fmt: skip


def nothing_yet(why: str) -> html.Div:
    """Return the page of a fleet whose records cannot carry a figure: what would help."""
    return html.Div(
        [
            parts.headline("Which construction takes how much vibration cannot be told yet."),
            parts.context_line(why),
            unfilled.block("vibration"),
            parts.caution(*told.CAUTION),
        ],
        className="page",
    )  # fmt: skip
