"""The blocks of the page of all places: rows in, components and cells out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import parts, words
from dashboard.queries.edition import Row

FILTERS = {
    "site": "Site",
    "line": "Line",
    "application_class": "Class",
    "construction": "Construction",
    "hazard": "Hazard",
    "flag": "Only places",
    "text": "Name holds",
}
"""Filters of the page, by their name in the address."""

FLAGS = {
    "faster": "faster than like places",
    "due": "30 % or more in 90 days",
    "no failure": "without a failure",
    "no hose": "without a hose",
}


def sentence(total: Row, currency: str) -> html.H1:
    """Return how many places fail faster than their peers and what share of cost is theirs."""
    n, faster = total["n_places"], total["n_faster"]
    places = words.count(n, "place")
    if not faster:
        return parts.headline(
            f"{places}; ", parts.strong("none goes through hoses faster than like places"),
            ", as far as the records can tell.",
        )  # fmt: skip
    verb = "goes" if faster == 1 else "go"
    said: list[Any] = [
        f"{places}; ", parts.strong(f"{faster:,} {verb} through hoses faster", attention=True),
        " than like places do",
    ]  # fmt: skip
    if total["cost"] and total["faster_cost"]:
        share = words.percent(total["faster_cost"] / total["cost"])
        cost = words.money(total["cost"], currency)
        said += [", and ", parts.strong(share), f" of next year's expected {cost} is theirs"]
    return parts.headline(*said, ".")


def filter_row(chosen: Mapping[str, str], offered: Mapping[str, list[str]]) -> html.Div:
    """Return the filters, filled from the address."""
    boxes: list[Any] = []
    for name, label in FILTERS.items():
        if name == "text":
            boxes.append(
                dmc.TextInput(
                    id="places-text", label=label, value=chosen.get(name, ""), debounce=300,
                    size="sm",
                )  # fmt: skip
            )
            continue
        values = [(v, v) for v in sorted(offered.get(name, []), key=words.by_number)]
        if name == "flag":
            values = list(FLAGS.items())
        boxes.append(
            dmc.Select(
                id=f"places-{name.replace('_', '-')}", label=label, value=chosen.get(name),
                data=[{"value": v, "label": text} for v, text in values], placeholder="all",
                clearable=True, searchable=len(values) > 8, size="sm",
                comboboxProps={"shadow": "none"},
            )  # fmt: skip
        )
    boxes.append(html.Button("Clear", id="places-clear", className="quiet", type="button"))
    boxes.append(html.Span(parts.download_links("places", chosen), id="places-downloads"))
    return html.Div(boxes, className="filters", role="search", id="places-filter-row")


def unfold(n_set: int) -> html.Button:
    """Return the button that shows the filters on a phone."""
    said = f"Filters, {n_set} set" if n_set else "Filters"
    return html.Button(said, className="plain unfolds", type="button", **{
        "aria-expanded": "false", "aria-controls": "places-filter-row"})


def broken_filters(query: Mapping[str, str], offered: Mapping[str, list[str]]) -> list[str]:
    """Return what an address asks for that does not exist, in words."""
    faults = [f"There is no filter “{name}”" for name in query if name not in FILTERS]
    for name, value in query.items():
        known = list(FLAGS) if name == "flag" else offered.get(name, [])
        if name in FILTERS and name != "text" and value not in known:
            faults.append(f"No place has {FILTERS[name].lower()} “{value}”")
    return faults


def stores() -> list[Any]:
    """Return what the page keeps in the browser: the filters, as name and value."""
    return [dcc.Store(id="places-filters")]
