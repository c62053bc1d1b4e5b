"""Choices that live in the address: links for a few options, an input for many."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode

from dash import ALL, ClientsideFunction, Input, Output, State, clientside_callback, html

from dashboard.parts import empty, link

WIDE: dict[str, Any] = {"context": {"wideOnly": True}}
"""Options of a table's column that a narrow screen leaves out."""


def fit_to_width(grid: str) -> None:
    """Let a table leave out its wide columns on a narrow screen.

    Parameters
    ----------
    grid : str
        Id of the table.
    """
    clientside_callback(
        ClientsideFunction("braidlife", "fit_columns"),
        Output(grid, "columnDefs", allow_duplicate=True),
        Input("shell-width", "data"),
        State(grid, "columnDefs"),
        prevent_initial_call="initial_duplicate",
    )


def keep_in_address(boxes: str, store: str) -> None:
    """Let the address hold what is chosen in boxes, under the index of each.

    Parameters
    ----------
    boxes : str
        Type in the ids of the boxes.
    store : str
        Id of a store, which then holds the address.
    """
    every = {"type": boxes, "index": ALL}
    clientside_callback(
        ClientsideFunction("braidlife", "keep_address"),
        Output(store, "data"),
        Input(every, "value"), State(every, "id"), State(every, "data"),
        prevent_initial_call=True,
    )  # fmt: skip


def choice(
    title: str, name: str, options: Mapping[str, str], chosen: str, path: str,
    query: Mapping[str, str],
) -> html.Div:  # fmt: skip
    """Return a few options as words in a line, the chosen one marked, the others links.

    Parameters
    ----------
    title : str
        What is chosen.
    name : str
        Name in the address.
    options : mapping of value to words
        The first is the default and stays out of the address.
    chosen : str
    path : str
        Address of the page.
    query : mapping
        The other choices of the address, kept as they are.
    """
    default = next(iter(options))
    items = []
    for value, words in options.items():
        kept = {**query, name: "" if value == default else value}
        items.append(
            html.Span(words, className="chosen", **{"aria-current": "true"})
            if value == chosen
            else link(words, path, **kept)
        )
    return html.Div([html.Span(title, className="choice-title"), *items], className="choice")


def only(title: str, chosen: str, why: str) -> html.Div:
    """Return a choice that is none here: what is shown, and where there would be more."""
    return html.Div([html.Span(title, className="choice-title"),
                     html.Span(chosen, className="chosen", **{"aria-current": "true"}),
                     html.Span(why, className="choice-title")], className="choice")  # fmt: skip


def allowed(value: str | None, options: Mapping[str, str]) -> tuple[str, bool]:
    """Return a value of the address if it is one of the options, else the first and a fault.

    Examples
    --------
    >>> allowed("b", {"a": "A", "b": "B"}), allowed("x", {"a": "A"}), allowed(None, {"a": "A"})
    (('b', True), ('a', False), ('a', True))
    """
    default = next(iter(options))
    if value in (None, ""):
        return default, True
    return (str(value), True) if value in options else (default, False)


def not_offered(faults: Sequence[str]) -> html.P | None:
    """Return what the address asks of a table in vain, in words; nothing where all is well."""
    return empty(". ".join([*faults, "The usual order is shown."])) if faults else None


def changed(path: str, search: str | None, **new: str | None) -> str:
    """Return an address with some of its choices replaced; an empty one is taken out.

    Examples
    --------
    >>> changed("/spares", "?text=C-3&part=x", part=None, months="6")
    '/spares?text=C-3&months=6'
    """
    query = dict(parse_qsl((search or "").lstrip("?"))) | {k: v or "" for k, v in new.items()}
    tail = urlencode({key: value for key, value in query.items() if value})
    return quote(path, safe="/%") + ("?" + tail if tail else "")
