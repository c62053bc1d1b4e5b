"""The blocks of the page about all trials."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.parts.trial import arms as parts_arms
from dashboard.parts.trial import candidates as parts_trials
from dashboard.queries import edition
from dashboard.queries.edition import Row

SHOWN = 5
"""Groups without a trial that are shown at once."""


def sentence(candidates: list[Row], states: list[Row], info: Row) -> list[Any]:
    """Return the sentence: a stop first, then where a trial is worth most, and what runs."""
    running = [row for row in states if row["is_running"]]
    stopped = next((row for row in running if row["state"] == "safety stop"), None)
    if stopped is not None:
        return [parts.strong(stopped["trial"], attention=True), ": ", stopped["words"]]
    tail = f"; {words.count(len(running), 'trial')} {'run' if len(running) > 1 else 'runs'} now."
    best = next((row for row in candidates if row["verdict"] == parts_trials.WORTH), None)
    if best is not None:
        return [
            "A trial would pay most at ", parts.strong(best["service_point"]), ": ",
            parts.strong(f"{best['flexible_construction']} against {best['stiff_construction']}"),
            f", {words.count(best['n_pairs'], 'pair')} for "
            f"{parts_trials.months_words(best['months'])}, worth ",
            parts.strong(parts_trials.value_words(best, info["currency"])), tail,
        ]  # fmt: skip
    if running:
        first = running[0]
        return [parts.strong(first["trial"]), " runs: ", first["words"]]
    return ["No trial would pay for itself today", tail]


def candidates_block(rows: list[Row], info: Row) -> html.Section:
    """Return the candidates with a plan, best first."""
    shared = parts_trials.shared_cautions(rows)
    worth = [row for row in rows if row["verdict"] == parts_trials.WORTH]
    rest = [row for row in rows if row["verdict"] != parts_trials.WORTH]
    body: Any = parts_trials.candidates_table(worth, info["currency"]) if worth else parts.empty(
        "No plan: no place fails often enough by vibration, wear or an unknown mechanism, nothing "
        "is left to learn, or the logs name no constructions to choose from.")
    more = [html.Details([
        html.Summary(f"and {words.count(len(rest), 'plan')} not worth the cost"),
        parts_trials.candidates_table(rest, info["currency"]),
    ], className="fold")] if rest else []  # fmt: skip
    return parts.section(
        "Where a trial would pay",
        ["Two constructions as far apart in stiffness and mass as the duty allows, because nobody "
         "knows beforehand in which direction the cure lies. ", *(f"{said} " for said in shared),
         parts.download_links("trial_candidates")],
        body, *more,
        how=parts.how(edition.method("trials"),
                      ["All candidates: ", parts.download_links("trial_candidates")],
                      info["as_of"]),
    )  # fmt: skip


def settled_block(rows: list[Row], info: Row) -> html.Section | None:
    """Return the groups of places that need no trial."""
    if not rows:
        return None
    more = [html.Details([
        html.Summary(f"and {words.count(len(rows) - SHOWN, 'more group')} of like places"),
        parts_trials.settled_table(rows[SHOWN:], info["currency"]),
    ], className="fold")] if len(rows) > SHOWN else []  # fmt: skip
    return parts.section(
        "Where a trial would tell too little",
        "Like places where a decided trial, or the records alone, have told already, or where too "
        "few hoses fail. A switch is a proposal for a qualified person, not an order.",
        parts_trials.settled_table(rows[:SHOWN], info["currency"]), *more,
        how=parts.how(edition.method("trials"),
                      ["All candidates: ", parts.download_links("trial_candidates")],
                      info["as_of"]),
    )  # fmt: skip


def registered_block(rows: list[Row], info: Row) -> html.Section:
    """Return the registered trials with the life ratio and the state of each."""
    body: Any = parts_arms.states_table(rows) if rows else parts.empty(
        "No trial is registered. A trials log with trial, place, arm and construction puts its "
        "lives side by side here; a plan below can be saved as rows of that log.")
    return parts.section(
        "Registered trials",
        ["Shown: claimed by the test fixed beforehand; favoured: what the lives so far lean to. ",
         parts.download_links("trial_states")],
        body,
        how=parts.how(edition.method("trial_watch"),
                      ["All trials: ", parts.download_links("trial_states")], info["as_of"]),
    )  # fmt: skip


def verdicts_block(rows: list[Row], info: Row) -> html.Section | None:
    """Return what decided trials have left for the choice of constructions."""
    if not rows:
        return None
    return parts.section(
        "Decided",
        ["What was left out stands in no further trial of its class, and what was adopted is what "
         "a new one is measured against. ", parts.download_links("trial_verdicts")],
        parts_arms.verdicts_table(rows),
    )  # fmt: skip
