"""One place: how its hoses lasted, against like places, and what to do next."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote

import dash
from dash import html

from dashboard import parts
from dashboard.parts import due as parts_due
from dashboard.parts.place import blocks
from dashboard.parts.place import cause as parts_place_cause
from dashboard.parts.place import enter as parts_place_enter
from dashboard.parts.place import told as parts_place
from dashboard.queries import due, edition
from dashboard.queries import place as asked
from dashboard.queries.edition import Row

dash.register_page(
    __name__, path_template="/places/<service_point>", name="One place",
    title=lambda service_point="", **_: f"{unquote(service_point)} · Braidlife",
)  # fmt: skip


def layout(service_point: str = "", **_: Any) -> html.Div:
    """Return the page of a place, or a page that says there is no such place."""
    name = unquote(service_point)
    now, place = edition.info(), asked.one(name)
    if place is None:
        shown = name if len(name) <= 80 else name[:80] + "…"
        return parts.problem_page(
            f"There is no place called “{shown}”.",
            "It may have been renamed in the register, or the address is incomplete.",
            ("/places", "all places"),
        )
    retired = place["retired_on"] is not None and place["retired_on"] <= now["as_of"]
    stays = asked.stays(name)
    columns = [
        blocks.survival(now, place, stays), blocks.against(now, place),
        blocks.next_step(now, place),
    ]  # fmt: skip
    beside = (change_age(name, now), blocks.on_line(name, now))
    pair = [block for block in beside if block is not None]
    return html.Div(
        [
            parts_place.line_links(asked.neighbours(name)),
            parts_place.register_line(place),
            parts_place.sentence(place, retired),
            parts_place.context(place),
            blocks.hoses(now, place, stays),
            html.Div(columns, className="columns thirds"),
            html.Div(pair, className="columns halves" if len(pair) == 2 else None),
            *blocks.recurring(name, now),
            parts_place_cause.teardowns(now, name),
            parts_place_cause.screens(now, name),
            blocks.loaded(name),
            parts_place_enter.block(name),
        ],
        className="page",
    )


def change_age(name: str, now: Row) -> html.Section | None:
    """Return at which age to change the hose, nothing where there is none."""
    behind = ["Every place: ", parts.download_links("replacement_ages")]
    mark = parts.how(edition.method("preventive_age"), behind, now["as_of"])
    return parts_due.age_block(due.of_place(name), mark, now["currency"])
