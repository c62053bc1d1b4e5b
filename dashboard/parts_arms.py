"""Registered trials by arm: hoses, failures and hose-days so far."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.queries.edition import Row

MOST_PLACES = 3
"""A trial at more places than this names them only on request."""


def registered(rows: Sequence[Row]) -> list[html.Article]:
    """Return one block a registered trial: its state, and both arms with their counts."""
    out = []
    for (trial, state), group in groupby(rows, key=lambda row: (row["trial"], row["state"])):
        arms = list(group)
        places = sorted({row["service_point"] for row in arms})
        started = min((r["started_on"] for r in arms if r["started_on"]), default=None)
        ended = max((r["ended_on"] for r in arms if r["ended_on"]), default=None)
        dates = f"since {words.date(started)}" + (f" until {words.date(ended)}" if ended else "")
        hazards = sorted({name for row in arms for name in row["hazards"] or ()})
        head = html.Div([html.Strong(trial), f" · {state} · {dates} ",
                         *parts.hazards(hazards), where(places)],
                        className="trial-head")  # fmt: skip
        out.append(html.Article([head, arms_table(arms), html.P(told(arms), className="caption")],
                                className="trial"))  # fmt: skip
    return out


def where(places: Sequence[str]) -> html.Div | html.Details:
    """Return links to the places of a trial, folded away when there are many."""
    linked: list[Any] = []
    for name in places:
        linked += [", " if linked else "", parts.place_link(name)]
    if len(places) <= MOST_PLACES:
        return html.Div(linked)
    return html.Details([html.Summary(words.count(len(places), "place")), html.Div(linked)],
                        className="fold")  # fmt: skip


def totals(rows: Sequence[Row]) -> list[Row]:
    """Return the counts of each arm over all its places."""
    out: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row["arm"] or "arm not named", row["construction"] or "unknown")
        total = out.setdefault(key, {"arm": key[0], "construction": key[1], "places": set(),
                                     "n_hoses": 0, "n_failures": 0, "days": 0.0})  # fmt: skip
        total["places"].add(row["service_point"])
        total["n_hoses"] += row["n_hoses"] or 0
        total["n_failures"] += row["n_failures"] or 0
        total["days"] += row["days_in_service"] or 0.0
    return [out[key] for key in sorted(out)]


def arms_table(rows: Sequence[Row]) -> html.Table:
    """Return both arms as rows of a table."""
    head = ["Arm", "Construction", "Places", "Hoses", "Failed", "Watched"]
    body: list[list[Any]] = [
        [html.Strong(row["arm"]), row["construction"], words.count(len(row["places"]), "place"),
         words.count(row["n_hoses"], "hose", "hoses") if row["n_hoses"] else "no hose yet",
         f"{row['n_failures']} failed, {row['n_hoses'] - row['n_failures']} not"
         if row["n_hoses"] else "nothing to count",
         f"{row['days']:,.0f} hose-days" if row["days"] else "no hose-day yet"]
        for row in totals(rows)
    ]  # fmt: skip
    return parts.table(head, body, className="arms")


def standing(rows: Sequence[Row]) -> list[Any]:
    """Return the counts of both arms for a sentence."""
    out: list[Any] = []
    for row in totals(rows):
        counts = f"{row['n_failures']} of {words.count(row['n_hoses'], 'hose')} failed"
        out += ["; " if out else "", f"{row['arm']} {row['construction']}, ",
                parts.strong(counts if row["n_hoses"] else "no hose yet"),
                f" in {row['days']:,.0f} hose-days" if row["days"] else ""]  # fmt: skip
    return out


def told(rows: Sequence[Row]) -> str:
    """Return in words what the arms say so far, without judging it."""
    said = []
    for row in totals(rows):
        if not row["days"]:
            said.append(f"{row['arm']}: not begun")
        elif row["n_failures"]:
            each = words.number(row["days"] / row["n_failures"])
            said.append(f"{row['arm']}: one failure in {each} hose-days")
        else:
            said.append(f"{row['arm']}: no failure in {row['days']:,.0f} hose-days")
    return "; ".join(said) + ". Decide by the rule fixed beforehand, not by these counts alone."
