"""Rough physics: formulas worked out for a place, or for figures that one types."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts
from dashboard.parts import physics as parts_physics
from dashboard.parts.physics import every_field, from_register, typed
from dashboard.queries import edition
from dashboard.queries import physics as asked
from dashboard.words import physics as told

dash.register_page(__name__, path="/physics", name="Rough physics",
                   title="Rough physics · Braidlife")  # fmt: skip


def layout(**query: Any) -> html.Div:
    """Return the sheet for the place and the figures of the address; what is typed goes first."""
    now = edition.info()
    place = str(query.get("place") or "")[:200]
    duty = asked.duty(place) if place else None
    known = from_register(duty or {})
    alloy = str(query.get("alloy") or (duty or {}).get("core_alloy") or "")
    ends = str(query.get("ends") or "")
    chosen = {"ends": ends if ends in asked.ENDS else "fixed", "alloy": alloy[:40]}
    is_typed = any(name in query for name, _, _ in every_field())
    given: dict[str, float | None] = {
        name: typed(str(query.get(name) or ""), unit) if is_typed else known.get(name)
        for name, _, unit in every_field()}
    worked = {**given, "stiffness_n_m2": given["bending_stiffness"]}
    found = asked.worked_out(worked, chosen["ends"], chosen["alloy"])
    mark = parts.how(edition.method("screens"), ["Every place: ", parts.download_links(
        "place_screens")], now["as_of"])
    unknown = parts.empty(f"“{place[:80]}” has no hose on record now: nothing is filled in."
                          ) if place and duty is None else None
    return html.Div(
        [
            parts.headline("What rough physics says, with where each figure comes from."),
            parts_physics.summary(place if duty else "", sum(
                value is not None for value in known.values())),
            unknown, mark, parts.caution(*told.CAUTION),
            parts_physics.sheet(place, given, chosen, {
                "ends": asked.ENDS, "alloy": asked.alloys()}, found),
        ],
        className="page",
    )  # fmt: skip
