"""The line of choices of the page Lives: figure, clock, estimate, mechanism."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

import dash_mantine_components as dmc
from dash import html

from dashboard.parts import choice
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives


@dataclass(frozen=True)
class Chosen:
    """What is shown, by the names of the address, in its order."""

    measure: str
    clock: str
    estimate: str
    mechanism: str

    def query(self) -> dict[str, str]:
        """Return the choices as the address keeps them: usual ones stay out."""
        usual = {"measure": "b10", "clock": clocks.DAYS.name, "estimate": "pooled",
                 "mechanism": "all"}  # fmt: skip
        return {name: "" if value == usual[name] else value
                for name, value in asdict(self).items()}


def line(
    path: str, names: Mapping[str, str], offered: Mapping[str, str], chosen: Chosen
) -> html.Div:
    """Return the choices; each keeps the others.

    Parameters
    ----------
    path : str
        Address of the page.
    names : mapping
        Mechanisms in words.
    offered : mapping
        Clocks in words; only one is no choice.
    chosen : Chosen
    """
    def one(title: str, name: str, options: Mapping[str, str], value: str) -> html.Div:
        rest = {key: kept for key, kept in chosen.query().items() if key != name}
        return choice.choice(title, name, options, value, path, rest)

    estimates = words_lives.ESTIMATES
    return html.Div(
        [
            one("Show", "measure", words_lives.MEASURES, chosen.measure),
            one("Clock", "clock", offered, chosen.clock) if len(offered) > 1 else None,
            one("Estimate", "estimate", estimates, chosen.estimate)
            if chosen.clock == clocks.DAYS.name else choice.only(
                "Estimate", estimates["alone"], "pooled in calendar days only"),
            dmc.Select(
                id="lives-mechanism", label="Failed by", value=chosen.mechanism,
                allowDeselect=False,
                data=[{"value": value, "label": text} for value, text in names.items()],
            ),
        ],
        className="filters choices",
    )  # fmt: skip
