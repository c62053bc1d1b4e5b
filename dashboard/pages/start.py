"""One's own files: what is needed, drop them, correct the mapping, load, land on the ranking."""

from __future__ import annotations

import dash
from dash import html

from dashboard.parts.start import page as parts_start_page

dash.register_page(__name__, path="/start", name="Load files", title="Load files · Braidlife")


def layout(**_: object) -> html.Div:
    """Return the page; it is the first one of an empty store too."""
    return parts_start_page.page()
