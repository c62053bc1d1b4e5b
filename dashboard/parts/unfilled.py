"""A page that has nothing yet: what will stand there, which logs fill it, and how to load them."""

from __future__ import annotations

from dash import html

from dashboard import parts
from dashboard.words.unfilled import FILLED_BY


def page(title: str, text: str, name: str) -> html.Div:
    """Return a page that has nothing to show.

    Parameters
    ----------
    title, text : str
        What is missing, and why.
    name : str
        A key of `FILLED_BY`.
    """
    return html.Div([parts.headline(title), parts.context_line(text), block(name)],
                    className="page problem")


def block(name: str) -> html.Section:
    """Return what a page will show, the logs that fill it, and the way to load them."""
    shown, logs = FILLED_BY[name]
    items = [html.Li([html.Div([html.Strong(log), html.Span(use)], className="row"),
                      html.Div(f"{held[:1].upper()}{held[1:]}.", className="below")])
             for log, held, use in logs]
    ways = html.P([parts.link("Load files", "/start"), " · ",
                   html.A("columns of all logs", href="/guide#columns")], className="ways")
    return parts.section("What will stand here", shown, html.Ul(items, className="list"), ways,
                         className="unfilled")
