"""Blocks of the page of trials: candidates with their two arms, registered trials by arm."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.queries.edition import Row

MOST_PLACES = 3
"""A trial at more places than this names them only on request."""
FAR_MONTHS = 60
"""A trial that needs longer than this for ten failures is said to be too slow."""


def candidates_table(rows: Sequence[Row], currency: str) -> html.Table:
    """Return one row a candidate: why there, the two arms, the time to an answer, cautions."""
    head = ["Place", "Why a trial", "Flexible arm", "Stiff arm", "Ten failures in",
            "What stands against it"]  # fmt: skip
    return parts.table(head, [
        [_place(row), _why(row, currency), *_arms(row), _answer(row), _against(row)]
        for row in rows
    ], className="candidates")  # fmt: skip


def _place(row: Row) -> html.Div:
    where = (row["application_class"], row["site"], row["line"])
    mate: list[Any] = []
    if row["mate"]:
        mate = [html.Div(["paired with ", parts.place_link(row["mate"])], className="below")]
    return html.Div([
        html.Span(f"{row['rank']} ", className="quiet-text"),
        parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
        html.Div(" · ".join(filter(None, where)), className="below"),
        *mate,
    ])  # fmt: skip


def _why(row: Row, currency: str) -> html.Div:
    ahead = words.number(row["expected_failures_12_months"])
    between = words.spread(row["expected_failures_lower"], row["expected_failures_upper"])
    failures = f"{ahead} failures expected in 12 months"
    if _is_within(row["expected_failures_12_months"], row["expected_failures_lower"],
                  row["expected_failures_upper"]):  # fmt: skip
        failures += f" ({between})"
    cost = "cost not known"
    if row["expected_cost"] is not None:
        cost = words.money(row["expected_cost"], currency)
        if _is_within(row["expected_cost"], row["expected_cost_lower"],
                      row["expected_cost_upper"]):  # fmt: skip
            cost += f" ({words.spread(row['expected_cost_lower'], row['expected_cost_upper'])})"
    counts = ""
    if row["n_failures"] is not None:
        counts = " · " + words.evidence(row["n_failures"], row["n_suspensions"])
    return html.Div([
        html.Strong(words.mechanism(row["mechanism"])),
        f": {row['reason']}" if row["reason"] else "",
        html.Div(f"{failures}; {cost}{counts}", className="below"),
    ])  # fmt: skip


def _is_within(value: float | None, lower: float | None, upper: float | None) -> bool:
    """Tell whether the place's own range speaks of this figure, not of place and mate together."""
    return None not in (value, lower, upper) and lower <= value <= upper  # type: ignore[operator]


def _arms(row: Row) -> list[Any]:
    """Return the two arms; words where the catalogue gives no pair."""
    out: list[Any] = []
    for arm in ("flexible", "stiff"):
        construction, reason = row[f"{arm}_construction"], row[f"{arm}_reason"]
        if construction is None:
            out.append(html.Span(reason or "no second construction suits", className="absent"))
            continue
        notes = [html.Div(reason, className="below")] if reason else []
        if construction == row["present_construction"]:
            notes.append(html.Div("the present construction", className="below"))
        if arm == "stiff" and row["stiffness_ratio"] is not None:
            times = f"{row['stiffness_ratio']:.1f} times as stiff"
            if row["mass_ratio"] is not None:
                times += f", {row['mass_ratio']:.1f} times as heavy"
            notes.append(html.Div(times, className="below"))
        out.append(html.Div([html.Strong(construction), *notes]))
    return out


def months_words(value: float | None) -> str:
    """Return the months until ten failures are expected.

    Examples
    --------
    >>> months_words(13.7), months_words(400.0), months_words(None)
    ('about 14 months', 'over 5 years', 'not known')
    """
    if value is None:
        return "not known"
    return f"about {value:.0f} months" if value <= FAR_MONTHS else f"over {FAR_MONTHS // 12} years"


def _answer(row: Row) -> html.Div:
    scope = "over both places" if row["mate"] else "at this place alone"
    return html.Div([months_words(row["months_to_ten_failures"]),
                     html.Div(f"at the present rate, {scope}", className="below")])  # fmt: skip


def _against(row: Row) -> html.Div:
    lines: list[Any] = []
    cautions = row["cautions"] or ""
    if row["hazards"] and "management of change" not in cautions:
        lines.append(html.Div(f"{', '.join(row['hazards'])}: approval by the site's management of "
                              "change first", className="warned"))  # fmt: skip
    if not row["mate"]:
        lines.append(html.Div("no like place to pair with: the arms follow one another"))
    if (row["months_to_ten_failures"] or 0) > FAR_MONTHS:
        lines.append(html.Div("too slow to tell within five years"))
    if cautions:
        lines.append(html.Div(cautions, className="warned" if row["hazards"] else "below"))
    return html.Div(lines or "nothing known")


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
