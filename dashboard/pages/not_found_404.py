"""The page shown where no page is."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard.parts import problem_page

dash.register_page(__name__, name="No such page", title="No such page · Braidlife")


def layout(**_: Any) -> html.Div:
    """Return a page that says so, with a way back."""
    return problem_page(
        "There is no page at this address.",
        "It may be mistyped, or the page has moved. A place, a line, a hose or a part is found by "
        "its name in the box at the top."
    )
