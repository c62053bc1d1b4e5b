"""The candidates for a trial: where, why, the two arms, what it is worth and when it answers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from dash import dcc, html

from dashboard import parts, units, words
from dashboard.queries.edition import Row

WORTH = "worth a trial"
CAUTION = (
    "Before a trial:",
    "in hazardous service it needs the approval of the site's management of change, and planned "
    "removal instead of running to failure. A fix that safety asks for is never trialled: make it "
    "everywhere at once. A qualified person confirms rating at temperature, bend, ends and alloy "
    "of both arms. Whoever sees a danger stops at once, whatever a rule says. Local codes and "
    "licensed practice come first.",
)


def trial_href(name: str) -> str:
    """Return the address of a trial, or of the plan at a place.

    Examples
    --------
    >>> trial_href("T1 a/b")
    '/trials/T1%20a%2Fb'
    """
    return "/trials/" + quote(name, safe="")


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


def candidates_table(rows: Sequence[Row], currency: str) -> html.Table:
    """Return one row a candidate with a plan: why there, the two arms, worth, size and answer."""
    head = ["Place", "Why there", "Flexible arm", "Stiff arm", "Worth", "Answer"]
    return parts.table(head, [
        [_place(row), why(row), *arms(row), worth(row, currency), answer(row)] for row in rows
    ], className="candidates")  # fmt: skip


def settled_table(rows: Sequence[Row], currency: str) -> html.Table:
    """Return the groups of like places that need no trial, and what to do there instead."""
    return parts.table(["Place", "Instead of a trial", "Why", "At stake"], [
        [_place(row), html.Strong(row["verdict"]),
         html.Div([row["verdict_reason"], html.Div(words.count(
             row["n_like_places"] or 0, "like place"), className="below")]),
         _stake(row, currency)]
        for row in rows
    ], className="settled")  # fmt: skip


def _place(row: Row) -> html.Div:
    where = (row["application_class"], row["site"], row["line"])
    name = row["service_point"]
    lead: Any = dcc.Link(name, href=trial_href(name), className="place")
    return html.Div([lead, *parts.hazards(row["hazards"]),
                     html.Div(" · ".join(filter(None, where)), className="below")])


def why(row: Row) -> html.Div:
    """Return why a trial is weighed there, with what is expected and the counts behind it."""
    ahead = words.number(row["expected_failures_12_months"])
    between = words.spread(row["expected_failures_lower"], row["expected_failures_upper"])
    expected = f"{ahead} failures expected here in 12 months"
    if is_within(row["expected_failures_12_months"], row["expected_failures_lower"],
                 row["expected_failures_upper"]):  # fmt: skip
        expected += f" ({between})"
    counts = ""
    if row["n_failures"] is not None:
        counts = " · " + words.evidence(row["n_failures"], row["n_suspensions"])
    return html.Div([
        html.Strong(words.mechanism(row["mechanism"])),
        f": {units.sentence(row['reason'])}" if row["reason"] else "",
        html.Div(f"{expected}{counts}", className="below"),
    ])  # fmt: skip


def is_within(value: float | None, lower: float | None, upper: float | None) -> bool:
    """Tell whether a range holds the figure that it would stand beside."""
    return None not in (value, lower, upper) and lower <= value <= upper  # type: ignore[operator]


def arms(row: Row) -> list[Any]:
    """Return the two arms; words where the catalogue gives no pair."""
    out: list[Any] = []
    for arm in ("flexible", "stiff"):
        construction, reason = row[f"{arm}_construction"], units.sentence(row[f"{arm}_reason"])
        if construction is None:
            out.append(html.Span(reason or "no second construction suits", className="absent"))
            continue
        notes = [html.Div(reason, className="below")] if reason else []
        if construction == row["present_construction"]:
            notes.append(html.Div("fitted there now", className="below"))
        if arm == "stiff" and row["stiffness_ratio"] is not None:
            times = f"{row['stiffness_ratio']:.1f} times as stiff"
            if row["mass_ratio"] is not None:
                times += f", {row['mass_ratio']:.1f} times as heavy"
            notes.append(html.Div(times, className="below"))
        out.append(html.Div([html.Strong(construction), *notes]))
    return out


def worth(row: Row, currency: str) -> html.Div:
    """Return what the trial is worth, and by what reckoning."""
    if row["value"] is None:
        return html.Div(html.Span("not known", className="absent"))
    if row["verdict"] != WORTH:
        return html.Div(["less than it costs", html.Div(
            f"by {value_words(row, currency)} over five years", className="below")])
    return html.Div([html.Strong(value_words(row, currency)),
                     html.Div("over five years, after its cost", className="below")])


def value_words(row: Row, currency: str) -> str:
    """Return the size of the value in money, or in failures where no cost is known."""
    if row["value_unit"] == "failures":
        return f"{words.number(abs(row['value']))} failures (no cost known)"
    return words.money(abs(row["value"]), currency)


def _stake(row: Row, currency: str) -> Any:
    """Return what a switch would bring over the horizon."""
    gain = row["value_without"]
    if gain is None or gain <= 0:
        return html.Span("no gain by switching", className="absent")
    if row["value_unit"] == "failures":
        return f"{words.number(gain)} failures over five years"
    return html.Div([words.money(gain, currency),
                     html.Div("over five years, expected", className="below")])


def months_words(value: float | None) -> str:
    """Return a length in months.

    Examples
    --------
    >>> months_words(18), months_words(None)
    ('18 months', 'not known')
    """
    return "not known" if value is None else words.count(round(value), "month")


def answer(row: Row) -> html.Div:
    """Return size, length and the two chances of a plan."""
    if row["n_pairs"] is None:
        return html.Div(html.Span(row["verdict_reason"] or "no size tells enough",
                                  className="absent"))
    shown = row["shown_probability"] or 0.0
    return html.Div([
        html.Strong(f"{words.count(row['n_pairs'], 'pair')}, {months_words(row['months'])}"),
        html.Div(f"{words.percent(row['right_choice_probability'])} chance of choosing rightly",
                 className="below"),
        html.Div(f"{words.percent(shown)} of showing it" if shown else "cannot show it",
                 className="below"),
    ])  # fmt: skip
