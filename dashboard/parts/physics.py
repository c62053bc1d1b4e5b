"""Blocks of the sheet of rough physics: what goes in, and what follows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from dash import dcc, html

from dashboard import parts, units, words
from dashboard.words import physics as told

MOST = 1e12
"""Figures beyond are taken for a slip of the hand."""

LONG_MM = 10_000.0
"""A length from here on is told in m or ft."""


class Line(Protocol):
    """One figure with what it rests on."""

    @property
    def what(self) -> str:
        """What was worked out."""

    @property
    def value(self) -> float:
        """The figure."""

    @property
    def unit(self) -> str:
        """Unit as stored."""

    @property
    def source(self) -> str:
        """Where the formula comes from."""

    @property
    def status(self) -> str:
        """How well that is known."""

    @property
    def lower(self) -> float | None:
        """Lower end of its range."""

    @property
    def upper(self) -> float | None:
        """Upper end of its range."""

    @property
    def note(self) -> str:
        """What to bear in mind."""


def sheet(
    place: str, given: Mapping[str, float | None], chosen: Mapping[str, str],
    options: Mapping[str, Sequence[str]], found: Mapping[str, Sequence[Line]],
) -> html.Form:  # fmt: skip
    """Return the form with every subject: inputs on one side, what follows on the other.

    Parameters
    ----------
    place : str
        Kept in the address; empty for none.
    given : mapping
        Inputs as stored, by name.
    chosen, options : mapping
        Of the two choices, ``ends`` and ``alloy``.
    found : mapping
        Lines by subject.
    """
    blocks: list[Any] = []
    for subject, fields in told.FIELDS.items():
        inputs = [_field(name, words_, unit, given.get(name)) for name, words_, unit in fields]
        if subject == "frequency":
            inputs.insert(1, _choice("ends", "Ends held", chosen, options))
        if subject == "pressure":
            inputs.insert(2, _choice("alloy", "Core alloy", chosen, options))
        blocks.append(parts.section(
            told.TITLES[subject], told.CANNOT[subject],
            html.Div([
                html.Div([*inputs, html.Button("Work out", type="submit")], className="asked"),
                _lines(found[subject]),
            ], className="sheet")))  # fmt: skip
    kept = [dcc.Input(name="place", type="hidden", value=place)] if place else []
    return html.Form([*kept, *blocks], action="/physics", method="GET", className="physics")


def _field(name: str, text: str, unit: str, value: float | None) -> html.Label:
    shown = units.name(unit) if unit else ""
    written = "" if value is None else f"{units.value(value, unit) if unit else value:.5g}"
    return html.Label([
        html.Span([text, html.Span(f", {shown}", className="unit") if shown else None]),
        dcc.Input(name=name, type="text", inputMode="decimal", value=written, autoComplete="off",
                  maxLength=20),
    ])  # fmt: skip


def _choice(
    name: str, text: str, chosen: Mapping[str, str], options: Mapping[str, Sequence[str]]
) -> html.Label:
    # The browser takes the first word that fits; a list of suggestions needs no script.
    return html.Label([
        html.Span(text),
        dcc.Input(name=name, type="text", value=chosen[name], list=f"physics-{name}",
                  autoComplete="off", maxLength=40),
        html.Datalist([html.Option(value=item) for item in options[name]], id=f"physics-{name}"),
    ])  # fmt: skip


def _lines(lines: Sequence[Line]) -> Any:
    if not lines:
        return parts.empty(told.NOTHING)
    body = []
    for line in lines:
        unit = line.unit if line.unit != "%" else ""
        value = _long(line.value) if unit == "mm" and abs(line.value) >= LONG_MM else (
            units.text(line.value, unit, 3).strip())
        if line.unit == "%":
            value += f"{words.SPACE}%"
        span = (html.Div(f"{units.spread(line.lower, line.upper, unit)} {units.name(unit)}",
                         className="below") if line.lower is not None else None)
        body.append([
            html.Div([units.sentence(line.what), html.Div(
                units.sentence(line.note), className="below") if line.note else None]),
            html.Div([html.Strong(value), span]),
            html.Div(line.source if line.source.startswith(line.status) else
                     f"{line.source}; {line.status}", className="rests"),
        ])  # fmt: skip
    return parts.table(["Worked out", "Figure", "Rests on"], body, "worked-out")


def _long(value_mm: float) -> str:
    """Return a length that nobody thinks of in mm or in."""
    if units.system() == "us":
        return f"{words.number(units.value(value_mm, 'mm') / 12.0, 3)}{words.SPACE}ft"
    return f"{words.number(value_mm / 1000.0, 3)}{words.SPACE}m"


def summary(place: str, n_known: int) -> html.P:
    """Return what the figures start from."""
    if not place:
        return parts.context_line("no place chosen: figures as typed")
    return parts.context_line(
        html.Span(["for ", parts.place_link(place)]),
        f"{words.count(n_known, 'figure')} from register, latest look and catalogue; "
        "type over any")


def every_field() -> list[tuple[str, str, str]]:
    """Return every input of the sheet: name, words, unit."""
    return [field for fields in told.FIELDS.values() for field in fields]


def from_register(duty: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the inputs that register, looks and catalogue fill in; hoses taken as filled."""
    named = {told.FROM_REGISTER.get(name, name): value for name, value in duty.items()}
    found = {name: named.get(name) for name, _, _ in every_field()}
    if duty:
        found["density_kg_m3"] = 1000.0
    return {name: None if value is None else float(value) for name, value in found.items()}


def typed(text: str, unit: str) -> float | None:
    """Return a figure typed in the reader's unit as it is stored; None for what is no figure.

    Examples
    --------
    >>> typed("1,250", "mm"), typed("12 mm", "mm"), typed("inf", "mm")
    (1250.0, None, None)
    """
    try:
        value = float(text.replace(",", "").strip())
    except ValueError:
        return None
    if not math.isfinite(value) or abs(value) > MOST:
        return None
    return float(units.conversion(unit, units.system()).typed(str(value))) if unit else value
