"""The candidates for a trial: where, why, the two arms, and what stands against it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.queries.edition import Row

FAR_MONTHS = 60
"""A trial that needs longer than this for ten failures is said to be too slow."""


def shared_cautions(rows: Sequence[Row]) -> list[str]:
    """Return the sentences that every candidate's cautions hold, to be said once.

    Examples
    --------
    >>> shared_cautions([{"cautions": "Confirm. Hot."}, {"cautions": "Confirm."}])
    ['Confirm.']
    """
    if len(rows) < 2:
        return []
    each = [sentences(row["cautions"]) for row in rows]
    return [said for said in each[0] if all(said in other for other in each)]


def sentences(text: str | None) -> list[str]:
    """Return the sentences of a text."""
    return [part for part in re.split(r"(?<=[.!?])\s+", text or "") if part]


def candidates_table(rows: Sequence[Row], currency: str, shared: Sequence[str]) -> html.Table:
    """Return one row a candidate: why there, the two arms, the time to an answer, cautions.

    Parameters
    ----------
    rows : sequence of rows
    currency : str
    shared : sequence of str
        Cautions said elsewhere once for all.
    """
    head = ["Place", "Why a trial", "Flexible arm", "Stiff arm", "Ten failures in",
            "What stands against it"]  # fmt: skip
    return parts.table(head, [
        [_place(row), _why(row, currency), *_arms(row), _answer(row), _against(row, shared)]
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


def _against(row: Row, shared: Sequence[str]) -> html.Div:
    lines: list[Any] = []
    cautions = " ".join(said for said in sentences(row["cautions"]) if said not in shared)
    if row["hazards"] and "management of change" not in cautions:
        lines.append(html.Div(f"{', '.join(row['hazards'])}: approval by the site's management of "
                              "change first", className="warned"))  # fmt: skip
    if not row["mate"]:
        lines.append(html.Div("no like place to pair with: the arms follow one another"))
    if (row["months_to_ten_failures"] or 0) > FAR_MONTHS:
        lines.append(html.Div("too slow to tell within five years"))
    if cautions:
        lines.append(html.Div(cautions, className="warned" if row["hazards"] else "below"))
    return html.Div(lines or "nothing but what is said above")
