"""A track record that is not there yet: how far it is, or how to make one."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboard import parts, words

LOOK_AGAIN_MS = 3000
HOW_TO_MAKE = [
    "To make it, run ", html.Code("braidlife load --track-record"), " on the store. It takes "
    "minutes; later loads with the same option add the new month only, unless settings, files or "
    "the version changed.",
]  # fmt: skip
MADE = [html.A("It is there now: show it", href="/track-record")]


def making(now: tuple[str, int, int]) -> list[Any]:
    """Return how far the record is, from the month at work, its number and how many there are."""
    month, number, of = now
    if not number:
        return ["Reading the logs first. The other pages can be used meanwhile."]
    return [
        f"Forecasting from {month}, {number} of {of} month ends. The other pages can be used "
        "meanwhile; this one goes on by itself.",
        html.Progress(value=str(number - 1), max=str(of), **{"aria-label": "Month ends done"}),
    ]


def nothing_yet(now: tuple[str, int, int] | None) -> html.Div:
    """Return the page of an edition without a track record."""
    return html.Div(
        [
            parts.headline("The track record of this edition is ",
                           parts.strong("being made" if now else "not made yet"), "."),
            html.Div(making(now) if now else HOW_TO_MAKE,
                     id="track-record-making", className="context"),
            html.P("A track record forecasts from each of the last 24 month ends with the logs of "
                   "that day alone, and sets the forecasts against what came since. Months with "
                   "fewer than five known failures are left out.", className="context"),
            dcc.Interval(id="track-record-look", interval=LOOK_AGAIN_MS, disabled=now is None),
            parts.caution(*words.CAUTION_FORECAST),
        ],
        className="page",
    )  # fmt: skip
