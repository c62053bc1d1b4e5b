"""Lives: how long each construction lasts in each application class."""

from __future__ import annotations

from typing import Any

import dash
from dash import Input, Output, State, callback, html

from dashboard import parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts import lives_choices as parts_choices
from dashboard.parts import matrix as parts_lives
from dashboard.parts import unfilled
from dashboard.queries import edition
from dashboard.queries import lives as asked
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives
from dashboard.words.late import late_failures

dash.register_page(__name__, path="/lives", name="Lives", order=3, title="Lives · Braidlife")
PATH = "/lives"


def layout(
    measure: str | None = None, mechanism: str | None = None, estimate: str | None = None,
    clock: str | None = None, **_: Any
) -> html.Div:
    """Return the page for the choices of the address."""
    info = edition.info()
    names = {name: words.mechanism(name) for name in asked.mechanisms()}
    if not names:
        return unfilled.page("No life can be told yet.",
                             "No hose of this edition was watched for a day or more.", "lives")
    offered = clocks.offered(asked.clocks())
    clock, known_clock = parts_choice.allowed(clock, offered)
    is_days = clock == clocks.DAYS.name
    if not is_days:
        names = {name: words.mechanism(name) for name in asked.clock_mechanisms(clock)}
    mechanism, known_mechanism = parts_choice.allowed(mechanism, names)
    measure, known_measure = parts_choice.allowed(measure, words_lives.MEASURES)
    estimate, known_estimate = parts_choice.allowed(estimate, words_lives.ESTIMATES)
    fits = asked.matrix(mechanism) if is_days else asked.clock_matrix(clock, mechanism)
    is_known = known_mechanism and known_measure and known_estimate and known_clock
    choices = parts_choices.line(PATH, names, offered, parts_choices.Chosen(
        measure, clock, estimate, mechanism))
    if not is_days:
        estimate = "alone"  # nothing is pooled by other clocks
    key, table = ("b10", "fits") if is_days else ("clock_fits", "clock_fits")
    return html.Div(
        [
            parts.headline(*parts_lives.sentence(fits, measure, estimate)),
            parts.context_line(
                words_lives.capital(words.mechanism(mechanism)), clocks.CLOCKS[clock].title,
                "pooled over like kinds" if estimate == "pooled" else "each kind by itself",
                *parts_lives.told_by(info if is_days else asked.clock_counts(clock)),
                late_failures(info) if estimate == "pooled" else "",
                f"90 % ranges, data to {words.date(info['as_of'])}",
            ),
            None if is_known else parts.empty(
                "The address asks for a choice that is not offered; the usual one is shown."),
            choices,
            parts.section(
                words_lives.capital(words_lives.MEASURES[measure])
                + " by application class and construction",
                parts_lives.caption(measure, estimate),
                parts_lives.matrix(fits, measure, estimate, mechanism),
                None if is_days else parts_lives.unread(
                    asked.clock_counts(clock), asked.unread_classes(clock)),
                how=parts.how(
                    edition.method(key),
                    ["Every cell opens its hoses. All fits: ", parts.download_links(table)],
                    info["as_of"],
                ),
            ),
            parts.caution(*words_lives.CAUTION_B10),
        ],
        className="page",
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
