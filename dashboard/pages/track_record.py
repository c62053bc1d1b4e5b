"""Track record: did earlier forecasts come true, and were they nearer than simple rules."""

from __future__ import annotations

from typing import Any

import dash
from dash import Input, Output, callback, html

from dashboard import parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts.track import blocks, made
from dashboard.parts.track import told as parts_track
from dashboard.queries import edition
from dashboard.queries import track as asked

dash.register_page(__name__, path="/track-record", name="Track record", order=8,
                   title="Track record · Braidlife")  # fmt: skip
PATH = "/track-record"


def layout(**query: Any) -> html.Div:
    """Return the page for the group, the span and the basis of the address."""
    info = edition.info()
    known = asked.bases()
    if not known:
        return made.nothing_yet(asked.being_made())
    basis, is_basis = parts_choice.allowed(query.get("basis"), dict.fromkeys(known, ""))
    span, is_span = parts_choice.allowed(query.get("months"), parts_track.SPANS)
    groups = {f"{row['scope']}:{row['scope_name']}": group_words(row) for row in asked.groups()}
    group, is_group = parts_choice.allowed(query.get("of"), groups)
    scores = parts_track.Scores(asked.scores(basis))
    monthly = asked.forecasts(basis, "fleet", "all", 1)
    scope, _, scope_name = group.partition(":")
    rows = asked.forecasts(basis, scope, scope_name, int(span))
    kept = {"basis": query.get("basis") or "", "months": query.get("months") or "",
            "of": query.get("of") or ""}  # fmt: skip

    def choice(title: str, name: str, options: dict[str, str], chosen: str) -> html.Div:
        return parts_choice.choice(title, name, options, chosen, PATH, kept)

    def how(key: str, table: str) -> html.Details:
        lines = ["All rows: ", parts.download_links(table)]
        return parts.how(edition.method(key), lines, info["as_of"])

    choices = html.Div([
        choice("Within", "months", parts_track.SPANS, span),
        choice("Of", "of", groups, group),
        choice("Made", "basis", {name: name for name in known}, basis) if known[1:] else None,
    ])  # fmt: skip
    return html.Div(
        [
            parts.headline(*parts_track.sentence(monthly, scores)),
            parts.context_line(*parts_track.context(monthly, basis),
                               f"data to {words.date(info['as_of'])}"),
            None if is_basis and is_span and is_group else parts.empty(
                "The address asks for a choice that is not offered; the usual one is shown."),
            html.Div([
                blocks.outcomes(rows, span, groups[group], choices,
                                how("track_record", "track_forecasts")),
                blocks.faults(parts_track.faults(rows, scores, span, basis,
                                                asked.unknown_reasons()),
                              how("track_scores", "track_scores")),
            ], className="columns wide-narrow"),
            blocks.scores_table(scores, span, how("track_scores", "track_scores")),
            blocks.chances(scores, how("track_scores", "track_scores")),
            blocks.flags(asked.flags(basis), scores.get("flagged place", 0, "flag_ratio"),
                         scores.get("flagged place", 0, "flag_faster"),
                         how("track_flags", "track_flags")),
            parts.caution(*words.CAUTION_FORECAST),
        ],
        className="page",
    )  # fmt: skip


def group_words(row: edition.Row) -> str:
    """Return the name of a group as a choice."""
    return "whole fleet" if row["scope"] == "fleet" else str(row["scope_name"])


@callback(
    Output("track-record-making", "children"), Output("track-record-look", "disabled"),
    Input("track-record-look", "n_intervals"), prevent_initial_call=True,
)  # fmt: skip
def look_again(_: int | None) -> tuple[list[Any], bool]:
    """Return how far the record is; the way to it once it is there."""
    now = asked.being_made()
    if now:
        return made.making(now), False
    return (made.MADE if asked.bases() else made.HOW_TO_MAKE), True
