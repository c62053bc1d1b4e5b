"""Trials: where two constructions side by side would tell most, and how running ones stand."""

from __future__ import annotations

from typing import Any

import dash
from dash import html

from dashboard import parts, parts_arms, parts_trials, words
from dashboard.queries import edition
from dashboard.queries import trials as asked
from dashboard.queries.edition import Row

dash.register_page(__name__, path="/trials", name="Trials", order=6, title="Trials · Braidlife")
SHOWN = 8


def layout(**_: Any) -> html.Div:
    """Return the page."""
    info = edition.info()
    candidates, registered = asked.candidates(), asked.registered()
    return html.Div(
        [
            parts.headline(*sentence(candidates, registered)),
            parts.context_line(
                words.count(len(candidates), "candidate"),
                words.count(len({row["trial"] for row in registered}), "registered trial"),
                f"data to {words.date(info['as_of'])}",
            ),
            candidates_block(candidates, info),
            parts.caution(
                "Before a trial:",
                "in hazardous service it needs the approval of the site's management of change, "
                "and planned removal instead of running to failure. A fix that safety asks for is "
                "never trialled: make it everywhere at once. A qualified person confirms rating at "
                "temperature, bend, ends and alloy of both arms.",
            ),
            registered_block(registered, info),
        ],
        className="page",
    )  # fmt: skip


def sentence(candidates: list[Row], registered: list[Row]) -> list[Any]:
    """Return the sentence: where a trial would answer first, and what runs."""
    running = {row["trial"] for row in registered if row["state"] == "running"}
    tail = f"; {words.count(len(running), 'trial')} {'runs' if len(running) < 2 else 'run'} now."
    able = [row for row in candidates if row["stiff_construction"] and row["flexible_construction"]
            and row["months_to_ten_failures"] is not None]  # fmt: skip
    if not able and running:
        name = min(running)
        return [parts.strong(name), " runs: ", *parts_arms.standing(
            [row for row in registered if row["trial"] == name]), "."]  # fmt: skip
    if not able:
        return ["No place calls for a trial that could be set up from the catalogue", tail]
    first = min(able, key=lambda row: (row["months_to_ten_failures"], row["rank"]))
    return [
        "A trial would answer soonest at ", parts.strong(first["service_point"]), ": ",
        parts.strong(f"{first['flexible_construction']} against {first['stiff_construction']}"),
        ", ten failures expected in ",
        parts.strong(parts_trials.months_words(first["months_to_ten_failures"])), tail,
    ]  # fmt: skip


def candidates_block(rows: list[Row], info: Row) -> html.Section:
    """Return the candidates, best first, and what holds for all of them said once."""
    shared = parts_trials.shared_cautions(rows)
    if not rows:
        body: Any = parts.empty(
            "No candidate: no place fails often enough by vibration, wear or an unknown mechanism, "
            "or the logs name no constructions to choose from."
        )
    else:
        body = parts_trials.candidates_table(rows[:SHOWN], info["currency"], shared)
    rest = [html.Details([
        html.Summary(f"and {words.count(len(rows) - SHOWN, 'more candidate')}"),
        parts_trials.candidates_table(rows[SHOWN:], info["currency"], shared),
    ], className="fold")] if len(rows) > SHOWN else []  # fmt: skip
    return parts.section(
        "Where a trial would pay",
        ["Two constructions as far apart in stiffness and mass as the duty allows, because nobody "
         "knows beforehand in which direction the cure lies. ", *(f"{said} " for said in shared),
         parts.download_links("trial_candidates")],
        body, *rest,
        how=parts.how(edition.method("trials"),
                      ["All candidates: ", parts.download_links("trial_candidates")],
                      info["as_of"]),
    )  # fmt: skip


def registered_block(rows: list[Row], info: Row) -> html.Section:
    """Return the registered trials with failures and hose-days by arm."""
    body: list[Any] = list(parts_arms.registered(rows)) or [parts.empty(
        "No trial is registered. A trials log with trial, place, arm and construction puts its "
        "lives side by side here.")]  # fmt: skip
    return parts.section(
        "Registered trials",
        ["Failures and hose-days since the start, by arm. ", parts.download_links("trials")],
        *body,
        how=parts.how({"words": "Hoses of the arm's construction fitted at the trial's places "
                       "between its start and end; failed includes found failed."},
                      ["All arms: ", parts.download_links("trials")], info["as_of"]),
    )  # fmt: skip
