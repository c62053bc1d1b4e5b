"""What surrounds every page: navigation, search, data date, light and dark, caution."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, dcc, html

from dashboard import theme, units, words
from dashboard.accounts import who
from dashboard.parts import place_href
from dashboard.queries import edition, search

KINDS = {"place": "Places", "line": "Lines", "hose": "Hoses", "part": "Parts"}


def layout() -> dmc.MantineProvider:
    """Return the shell around the page container; the data date is read at every load."""
    return dmc.MantineProvider(
        [
            dcc.Location(id="shell-goto", refresh="callback-nav"),
            dcc.Location(id="shell-location", refresh=False),
            dcc.Store(id="shell-scheme", data="light"),
            dcc.Store(id="shell-width", data="wide"),
            html.A("Skip to the content", href="#shell-content", className="skip"),
            html.Header([*_signed_in(), html.Div(_bar(), className="bar")], className="shell"),
            html.Div(id="shell-notice", role="status", className="notice"),
            html.Main(dash.page_container, id="shell-content", tabIndex=-1),
            html.Footer(html.P(_footer()), className="shell"),
        ],
        theme=theme.mantine_theme(),
        defaultColorScheme="auto",
    )


def _footer() -> str:
    """Return the words below every page; without accounts they say who may come in."""
    return words.FOOTER if who.has_accounts() else f"{words.FOOTER} {who.EVERYONE}"


def _bar() -> list[Any]:
    """Return the one line at the top."""
    return [
        dcc.Link(words.PRODUCT, href="/", className="product"),
        html.Nav([_nav_link(page) for page in nav_pages()], **{"aria-label": "Pages"}),
        html.Div(
            [
                dmc.Select(
                    id="shell-search",
                    placeholder="Place, line, hose or part",
                    searchable=True,
                    clearable=True,
                    rightSection=html.Span(),
                    data=[],
                    nothingFoundMessage="Type a part of its name",
                    size="sm",
                    maxDropdownHeight=420,
                    comboboxProps={"width": 320, "position": "bottom-end", "shadow": "none"},
                    **{"aria-label": "Find a place, line, hose or part"},
                ),
                html.Span(_data_date(), className="data-date"),
                _units_switch(),
                html.Button("Dark", id="shell-scheme-switch", className="quiet", type="button"),
            ],
            className="tools",
        ),
    ]


def _signed_in() -> list[html.Div]:
    """Return who has signed in and the way out; nothing where there are no accounts."""
    account = who.account()
    if account is None:
        return []
    named = f"{account.name}, {account.role}"
    return [html.Div(
        [html.A(named, href="/accounts", title="Accounts") if account.may("keeper")
         else html.Span(named, title=named),
         html.Form(html.Button("Sign out", type="submit", className="quiet"),
                   action="/sign-out", method="POST")], className="signed-in")]


def _units_switch() -> html.A:
    """Return the link that opens the page in the other system; the browser keeps the choice."""
    other = "si" if units.system() == "us" else "us"
    return html.A(
        {"si": "SI units", "us": "US units"}[other], id="shell-units", className="quiet",
        href=f"?{units.PARAMETER}={other}", title=f"Show {units.SYSTEMS[other]} units",
        **{"aria-label": f"Show {units.SYSTEMS[other]} units"},
    )


def nav_pages() -> list[dict[str, Any]]:
    """Return the pages that stand in the navigation, in their order."""
    return [p for p in dash.page_registry.values() if p.get("order") is not None]


def _nav_link(page: dict[str, Any]) -> dcc.Link:
    return dcc.Link(
        page["name"], href=page["path"], id={"type": "shell-link", "index": page["path"]}
    )


def _data_date() -> str:
    try:
        return f"Data to {words.date(edition.info()['as_of'])}"
    except edition.EditionError:
        return "No data yet"


def options(text: str) -> list[dict[str, Any]]:
    """Return what the search box offers for a text; the value of each is its address."""
    text = text.strip()
    if not text:
        return []
    groups: dict[str, list[dict[str, str]]] = {}
    for hit in search.found(text):
        query = {"line": hit["name"], "site": hit["site"] or ""}
        href = {
            "place": place_href(hit["name"]),
            "line": "/places?" + urlencode({k: v for k, v in query.items() if v}),
            "hose": place_href(hit["detail"] or ""),
            "part": "/spares?" + urlencode({"text": hit["name"]}),
        }[hit["kind"]]
        label = f"{hit['name']} · {hit['detail']}" if hit["detail"] else hit["name"]
        groups.setdefault(KINDS[hit["kind"]], []).append({"value": href, "label": label})
    every = {"value": "/places?" + urlencode({"text": text}), "label": f"All places with “{text}”"}
    found = [{"group": name, "items": items} for name, items in groups.items()]
    return [*found, {"group": "Everything", "items": [every]}]


def register(app: dash.Dash) -> None:
    """Register the callbacks of the shell with an app."""

    @app.callback(
        Output("shell-search", "data"),
        Input("shell-search", "searchValue"),
        prevent_initial_call=True,
    )
    def offer(text: str | None) -> list[dict[str, Any]]:
        return options(text) if isinstance(text, str) else []

    app.clientside_callback(
        ClientsideFunction("braidlife", "follow_hit"),
        Output("shell-search", "value"),
        Input("shell-search", "value"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("braidlife", "mark_page"),
        Output({"type": "shell-link", "index": ALL}, "className"),
        Input("shell-location", "pathname"),
        State({"type": "shell-link", "index": ALL}, "id"),
    )
    app.clientside_callback(
        ClientsideFunction("braidlife", "switch_scheme"),
        Output("shell-scheme", "data"),
        Output("shell-scheme-switch", "children"),
        Input("shell-scheme-switch", "n_clicks"),
    )
    app.clientside_callback(
        ClientsideFunction("braidlife", "recolour"),
        Output({"type": "parts-graph", "index": dash.MATCH}, "figure"),
        Input({"type": "parts-figure", "index": dash.MATCH}, "data"),
        Input("shell-scheme", "data"),
    )
