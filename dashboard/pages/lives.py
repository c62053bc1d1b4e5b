"""Lives: how long each construction lasts in each application class."""

from __future__ import annotations

from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, callback, html

from dashboard import parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts import matrix as parts_lives
from dashboard.parts import unfilled
from dashboard.queries import edition
from dashboard.queries import lives as asked
from dashboard.words import lives as words_lives
from dashboard.words.late import late_failures

dash.register_page(__name__, path="/lives", name="Lives", order=3, title="Lives · Braidlife")
PATH = "/lives"


def layout(
    measure: str | None = None, mechanism: str | None = None, estimate: str | None = None, **_: Any
) -> html.Div:
    """Return the page for the choices of the address."""
    info = edition.info()
    names = {name: words.mechanism(name) for name in asked.mechanisms()}
    if not names:
        return unfilled.page("No life can be told yet.",
                             "No hose of this edition was watched for a day or more.", "lives")
    mechanism, known_mechanism = parts_choice.allowed(mechanism, names)
    measure, known_measure = parts_choice.allowed(measure, words_lives.MEASURES)
    estimate, known_estimate = parts_choice.allowed(estimate, words_lives.ESTIMATES)
    fits = asked.matrix(mechanism)
    query = {"measure": "" if measure == "b10" else measure,
             "estimate": "" if estimate == "pooled" else estimate,
             "mechanism": "" if mechanism == "all" else mechanism}  # fmt: skip
    is_known = known_mechanism and known_measure and known_estimate
    return html.Div(
        [
            parts.headline(*parts_lives.sentence(fits, measure, estimate)),
            parts.context_line(
                words_lives.capital(words.mechanism(mechanism)), "calendar days",
                "pooled over like kinds" if estimate == "pooled" else "each kind by itself",
                f"{words.count(info['n_lives'], 'hose')}, {info['n_failures']:,} failed",
                late_failures(info) if estimate == "pooled" else "",
                f"90 % ranges, data to {words.date(info['as_of'])}",
            ),
            None if is_known else parts.empty(
                "The address asks for a choice that is not offered; the usual one is shown."),
            _choices(names, mechanism, measure, estimate, query),
            parts.section(
                words_lives.capital(words_lives.MEASURES[measure])
                + " by application class and construction",
                parts_lives.caption(measure, estimate),
                parts_lives.matrix(fits, measure, estimate, mechanism),
                how=parts.how(
                    edition.method("b10"),
                    ["Every cell opens its hoses. All fits: ", parts.download_links("fits")],
                    info["as_of"],
                ),
            ),
            parts.caution(*words_lives.CAUTION_B10),
        ],
        className="page",
    )  # fmt: skip


def _choices(names: dict[str, str], mechanism: str, measure: str, estimate: str,
             query: dict[str, str]) -> html.Div:  # fmt: skip
    rest = {key: {k: v for k, v in query.items() if k != key} for key in query}
    return html.Div(
        [
            parts_choice.choice("Show", "measure", words_lives.MEASURES, measure, PATH,
                                rest["measure"]),
            parts_choice.choice("Estimate", "estimate", words_lives.ESTIMATES, estimate, PATH,
                                rest["estimate"]),
            dmc.Select(
                id="lives-mechanism", label="Failed by", value=mechanism, allowDeselect=False,
                data=[{"value": value, "label": text} for value, text in names.items()],
            ),
        ],
        className="filters choices",
    )  # fmt: skip


@callback(
    Output("shell-goto", "href", allow_duplicate=True),
    Input("lives-mechanism", "value"),
    State("shell-location", "search"),
    prevent_initial_call=True,
)
def choose_mechanism(mechanism: Any, search: str | None) -> Any:
    """Open the page for the chosen mechanism."""
    wanted = "" if mechanism == "all" else str(mechanism or "")
    now = parts_choice.changed(PATH, search)
    then = parts_choice.changed(PATH, search, mechanism=wanted)
    return dash.no_update if now == then else then
