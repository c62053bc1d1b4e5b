"""A track record that is not there yet: how far it is, or how to make one."""

from __future__ import annotations

from typing import Any

from dash import html

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
