"""Registered trials: how each stands, by arm, and what was decided."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboard import parts, words
from dashboard.figures.axis import Axis, ratio_axis
from dashboard.parts.trial.candidates import trial_href
from dashboard.queries.edition import Row

RATIO = ratio_axis(5.0)


def trial_link(name: str) -> dcc.Link:
    """Return the link to a trial's page."""
    return dcc.Link(name, href=trial_href(name), className="place")


def states_table(rows: Sequence[Row]) -> html.Table:
    """Return one row a registered trial: what failed, the life ratio, where it stands."""
    scale = parts.axis_header(RATIO, lambda tick: f"{tick:g}×", "Life ratio")
    body = [[_name(row), *(_arm(row, name) for name in ("first", "second")),
             html.Div([ratio_mark(row, RATIO), html.Div(ratio_words(row), className="below")]),
             _stands(row)] for row in rows]  # fmt: skip
    return parts.table(["Trial", "First arm", "Second arm", scale, "Where it stands"], body,
                       className="registered")


def _name(row: Row) -> html.Div:
    dates = f"since {words.date(row['started_on'])}"
    if row["ended_on"]:
        dates += f" until {words.date(row['ended_on'])}"
    pairs = words.count(row["n_pairs"] or 0, "pair")
    return html.Div([trial_link(row["trial"]),
                     html.Div(f"{row['application_class']} · {pairs}", className="below"),
                     html.Div(dates, className="below")])


def _arm(row: Row, name: str) -> html.Div:
    """Return one arm with its counts."""
    if row[f"{name}_arm"] is None:
        return html.Div(html.Span("no second arm", className="absent"))
    head = [html.Strong(row[f"{name}_construction"] or "construction not named"),
            html.Div(row[f"{name}_arm"], className="below")]
    return html.Div([*head, html.Div(arm_counts(row, name), className="below")])


def arm_counts(row: Row, name: str) -> str:
    """Return hoses and failures of an arm, failures expected were the arms alike beside them."""
    hoses = row[f"{name}_hoses"]
    if not hoses:
        return "no hose yet"
    return (f"{row[f'{name}_failures']:.0f} of {words.count(hoses, 'hose')} failed, "
            f"{words.number(row[f'{name}_expected'])} expected if alike")


def ratio_mark(row: Row, axis: Axis) -> html.Span:
    """Return the life ratio as a dot on a line."""
    failures = (row["first_failures"] or 0) + (row["second_failures"] or 0)
    return parts.interval(
        row["life_ratio"], row["life_ratio_lower"], row["life_ratio_upper"], axis,
        label=ratio_words(row), n_failures=int(failures), absent="nothing to compare yet",
    )  # fmt: skip


def ratio_words(row: Row) -> str:
    """Return in words how the lives of the arms compare."""
    if row["life_ratio"] is None:
        return ""
    return (f"{row['second_arm']} lasts {words.number(row['life_ratio'])} times as long as "
            f"{row['first_arm']} "
            f"({words.spread(row['life_ratio_lower'], row['life_ratio_upper'])})")


def _stands(row: Row) -> html.Div:
    """Return the state and the next look."""
    urgent = row["state"] == "safety stop"
    said = row["words"].removeprefix("Decided: ")
    lines: list[Any] = [parts.strong(row["state"], urgent), html.Div(said)]
    if row["next_look_on"]:
        lines.append(html.Div(f"next look {words.date(row['next_look_on'])}", className="below"))
    if row["warnings"]:
        lines.append(html.Div(row["warnings"], className="warned"))
    return html.Div(lines)


def verdicts_table(rows: Sequence[Row]) -> html.Table:
    """Return what decided trials have left: what is adopted and what is left out, by class."""
    groups: dict[tuple[str, str], dict[bool, list[str]]] = {}
    about: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row["trial"], row["application_class"])
        groups.setdefault(key, {}).setdefault(row["is_adopted"], []).append(row["construction"])
        about[key] = row
    return parts.table(["Application", "Adopted", "Left out", "Decided"], [
        [key[1], html.Strong(", ".join(found.get(True, [])) or "none"),
         ", ".join(found.get(False, [])) or "none",
         html.Div([trial_link(key[0]), html.Div(_decided(about[key]), className="below")])]
        for key, found in groups.items()
    ])  # fmt: skip


def _decided(row: Row) -> str:
    day = f" on {words.date(row['decided_on'])}" if row["decided_on"] else ""
    return f"{row['decision']}{day}"
