"""The page of a registered trial, and that of a plan."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, units, words
from dashboard.parts.trial import arms as parts_arms
from dashboard.parts.trial import candidates as parts_trials
from dashboard.parts.trial import enter as parts_trial_enter
from dashboard.parts.trial import plan as parts_trial_plan
from dashboard.parts.trial import rule as parts_trial_rule
from dashboard.parts.trial import watch as parts_trial_watch
from dashboard.queries import edition
from dashboard.queries import trials as asked
from dashboard.queries.edition import Row


def registered(state: Row, info: Row) -> html.Div:
    """Return the page of a registered trial."""
    name = state["trial"]
    mark = parts.how(edition.method("trial_watch"),
                     ["All hoses: ", parts.download_links("trial_stays")], info["as_of"])
    stays = asked.stays(name)
    hazards = sorted({word for seat in asked.registered(name) for word in seat["hazards"] or ()})
    return html.Div(
        [
            html.P([parts.link("Trials", "/trials"),
                    html.Span(f" · {state['application_class']} "),
                    *parts.hazards(hazards)], className="lead"),
            parts.headline(*parts_trial_watch.sentence(state)),
            parts.context_line(*parts_trial_watch.context(state)),
            html.Div([
                html.Div([
                    parts_trial_watch.figure_block(state, stays, asked.looks(name), mark),
                    parts_trial_watch.arms_block(state, mark),
                    parts_trial_watch.pairs_block(state, stays, mark),
                    decided_block(state),
                ]),
                html.Div([parts_trial_rule.rule_block(
                          state["rule"], is_planned=False, is_fixed=state["is_registered"]),
                          parts_trial_watch.standing_block(
                              state, parts.download_links("trial_looks"), mark)]),
            ], className="columns wide-narrow with-rule"),
            parts.caution(*parts_trials.CAUTION),
        ],
        className="page",
    )  # fmt: skip


def decided_block(state: Row) -> html.Section:
    """Return what was decided, and what follows for the choice of constructions."""
    mine = [row for row in asked.verdicts() if row["trial"] == state["trial"]]
    if state["decision"] is None:
        body: Any = parts.empty("Nothing is decided.")
    elif mine:
        body = parts_arms.verdicts_table(mine)
    else:
        body = parts.empty(f"“{state['decision']}” names no single arm as adopted or left out, so "
                           "nothing follows for other places.")
    rows = asked.as_published(state["trial"])
    return parts.section("Decision", "", body, parts_trial_enter.who_decided(rows),
                         parts_trial_enter.block(state))


def planned(row: Row, info: Row) -> html.Div:
    """Return the page of a plan, or of a group that needs no trial."""
    place, places = row["service_point"], asked.assignment(row["service_point"])
    mark = parts.how(edition.method("trials"),
                     ["All sizes: ", parts.download_links("trial_sizes")], info["as_of"])
    blocks: list[Any] = [parts_trial_plan.arms_block(
        row, asked.screens(place), parts.how(
            edition.method("screens"), ["All screens: ", parts.download_links("trial_screens")],
            info["as_of"]))]
    if places:
        query = {"candidate": place}
        blocks.append(parts_trial_plan.assignment_block(
            row, places, parts.download_links("trials_log", query), mark))
    if row["n_pairs"] is not None:
        blocks = [html.Div([
            html.Div([parts_trial_plan.size_block(row, asked.sizes(place), mark), *blocks]),
            html.Div(parts_trial_rule.rule_block(row["rule"], is_planned=True)),
        ], className="columns wide-narrow with-rule")]
    where = " · ".join(filter(None, (row["application_class"], row["site"], row["line"])))
    return html.Div(
        [
            html.P([parts.link("Trials", "/trials"), f" · {where} · ", parts.place_link(place), " ",
                    *parts.hazards(row["hazards"])], className="lead"),
            parts.headline(*parts_trial_plan.sentence(row, info["currency"])),
            parts.context_line(units.sentence(row["reason"]),
                               f"data to {words.date(info['as_of'])}"),
            *blocks,
            parts.caution("At this place:", row["cautions"] or "nothing beyond what follows."),
            parts.caution(*parts_trials.CAUTION),
        ],
        className="page",
    )  # fmt: skip
