"""The plan of a trial: size, both arms side by side, places by coin, rows to record the start."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import groupby
from typing import Any

from dash import html

from dashboard import parts, units, words
from dashboard.figures.axis import Axis, linear_axis
from dashboard.figures.trials import right_choice
from dashboard.parts.trial import candidates as parts_trials
from dashboard.queries.edition import Row

WANTED = 0.9
SHARED = {"equipment": "one machine", "line": "one line", "site": "one site"}


def sentence(row: Row, currency: str) -> list[Any]:
    """Return the sentence of a plan, or of a group that needs no trial."""
    if row["n_pairs"] is None:
        return ["No trial at ", parts.strong(row["service_point"]), ": ",
                parts.strong(row["verdict"]), f". {_capital(row['verdict_reason'])}."]
    tail = f"; worth {parts_trials.value_words(row, currency)} over five years"
    if row["verdict"] != parts_trials.WORTH:
        tail = f"; {row['verdict']}"
    return [
        parts.strong(f"{row['flexible_construction']} against {row['stiff_construction']}"),
        f" in {words.count(row['n_pairs'], 'pair')} for "
        f"{parts_trials.months_words(row['months'])} would choose rightly with ",
        parts.strong(f"{words.percent(row['right_choice_probability'])} chance"), tail, ".",
    ]  # fmt: skip


def _capital(text: str | None) -> str:
    return text[0].upper() + text[1:] if text else "Nothing more is known"


def size_block(row: Row, sizes: Sequence[Row], how: Any) -> html.Section:
    """Return the chance of a right choice by months and pairs, and what the plan costs in hoses."""
    facts = [
        ("Size", f"{words.count(row['n_pairs'], 'pair')} of "
                 f"{words.count(row['n_pairs_possible'], 'possible pair')}, about "
                 f"{words.count(round(row['n_hoses']), 'hose')} in all"),
        ("Failures", f"about {words.number(row['expected_failures_trial'])} expected in "
                     f"{parts_trials.months_words(row['months'])}"),
        ("Choosing rightly", f"{words.percent(row['right_choice_probability'])}, where lives "
                             "differ by more than 20 %"),
        ("Showing it", _shown(row)),
        ("Wrong claim", _wrong(row)),
        ("Believed now", _belief(row)),
    ]
    children: list[Any] = []
    if sizes:
        label = (f"Chance of choosing rightly by months, one line a number of pairs; the plan: "
                 f"{words.percent(row['right_choice_probability'])} after "
                 f"{parts_trials.months_words(row['months'])}")
        children.append(parts.graph("trial-size", right_choice(sizes, WANTED), 260, label))
    terms = [item for name, said in facts for item in (html.Dt(name), html.Dd(said))]
    return parts.section(
        "Size and chances",
        f"{_lead(row)}400 trials simulated from what is known of both arms and the places; "
        f"dotted: {words.percent(WANTED)} chance of choosing rightly",
        *children, html.Dl(terms, className="terms"), how=how)


def _lead(row: Row) -> str:
    """Return why a plan is not worth its cost."""
    return "" if row["verdict"] == parts_trials.WORTH else f"{_capital(row['verdict_reason'])}. "


def _shown(row: Row) -> str:
    if not row["shown_probability"]:
        return "never: a claim needs six pairs and enough failures; the trial can still choose"
    when = row["months_to_claim"]
    after = f", then after about {words.count(round(when), 'month')}" if when else ""
    return f"{words.percent(row['shown_probability'])} chance that the test claims it{after}"


def _wrong(row: Row) -> str:
    if not row["shown_probability"]:
        return "none: no claim can be made"
    if not row["wrong_claim_probability"]:
        return "in none of the simulated trials was the shorter-lived arm claimed"
    return (f"{words.percent(row['wrong_claim_probability'])} of such trials would claim the "
            "shorter-lived arm")


def _belief(row: Row) -> str:
    return (f"{row['stiff_construction']} lasts {words.number(row['life_ratio'])} times as long as "
            f"{row['flexible_construction']} "
            f"({words.spread(row['life_ratio_lower'], row['life_ratio_upper'])}); by "
            f"{row['life_ratio_basis']}")


def arms_block(row: Row, screens: Sequence[Row], how: Any) -> html.Section:
    """Return both constructions side by side, as the catalogue and the screens see them there."""
    found = {(item["screen"], item["arm"]): item for item in screens}
    if not found:
        return parts.section("Both arms side by side", "", parts.empty(
            "The catalogue or the register says too little of this place for any comparison."))
    ends = [item[end] for item in screens if item["screen"] == "frequency"
            for end in ("upper", "limit_value")]
    drawn = {"frequency": partial(_frequency, axis=linear_axis(ends, share=1.0))} if any(
        ends) else {}
    body = [
        [title, *(drawn.get(screen, told)(found.get((screen, arm)))
                  for arm in ("flexible", "stiff"))]
        for screen, title, told in SCREENS if any(key[0] == screen for key in found)
    ]
    head = ["At this place", row["flexible_construction"] or "flexible arm",
            row["stiff_construction"] or "stiff arm"]
    return parts.section(
        "Both arms side by side",
        "Rough screens from catalogue and register: they raise questions and clear nothing. The "
        "rating sheet and the maker decide.",
        parts.table(head, body, className="two-arms"), how=how)


def _plain(item: Row | None) -> Any:
    if item is None or item["value"] is None:
        return html.Span("not recorded", className="absent")
    return units.text(item["value"], item["unit"], 3)


def _rating(item: Row | None) -> Any:
    if item is None:
        return html.Span("pressure, temperature or rating not recorded", className="absent")
    return html.Div([f"{units.text(item['limit_value'], 'bar', 3)} allowed at its temperature",
                     html.Div(f"place runs at {units.text(item['value'], 'bar')}, "
                              f"{words.percent(item['ratio'])} of it", className="below")])


def _bend(item: Row | None) -> Any:
    if item is None:
        return html.Span("bend or least radius not recorded", className="absent")
    return html.Div([f"needs {units.text(item['limit_value'], 'mm', 3)} in motion",
                     html.Div(f"place has {units.text(item['value'], 'mm', 3)}",
                              className="below")])


def _frequency(item: Row | None, axis: Axis | None = None) -> Any:
    """Return the natural frequency on one scale for both arms, against what shakes there."""
    if item is None:
        return html.Span("length, stiffness, mass or vibration not recorded", className="absent")
    low, high, shaken = item["lower"], item["upper"], item["limit_value"]
    is_near = low is not None and high is not None and low <= shaken <= high
    near = (html.Div(f"the {words.number(shaken, 3)} Hz measured there are inside: resonance is "
                     "possible", className="below warned") if is_near else
            html.Div(f"measured there {words.number(shaken, 3)} Hz, outside", className="below"))
    said = f"{words.number(item['value'], 3)} Hz ({words.spread(low, high, 3)})"
    return html.Div([said, _on_a_line(item, axis, said), near])


def _on_a_line(item: Row, axis: Axis | None, said: str) -> html.Div | None:
    """Return the range as a dot on a line, what was measured there as a dotted mark across it."""
    if axis is None or item["value"] is None or item["limit_value"] is None:
        return None
    mark = parts.interval(item["value"], item["lower"], item["upper"], axis, label=said)
    at = f"{axis.position(item['limit_value']):.2f}%"
    mark.children = [*mark.children, html.Span(className="against", style={"left": at})]
    ends = f"0 to {words.number(axis.high)} Hz; dotted: measured there"
    return html.Div([mark, html.Div(ends, className="below")], className="on-a-line")


SCREENS: tuple[tuple[str, str, Callable[[Row | None], Any]], ...] = (
    ("stiffness", "Bending stiffness", _plain), ("mass", "Mass", _plain),
    ("rating", "Pressure", _rating), ("bend", "Bend radius", _bend),
    ("frequency", "Natural frequency, straight", _frequency),
)


def assignment_block(
    row: Row, places: Sequence[Row], downloads: Any, how: Any
) -> html.Section:
    """Return the pairs with the arm that the coin gave each place, and the rows to record."""
    seed = places[0]["coin_seed"] if places else None
    body = []
    for pair, group in groupby(places, key=lambda item: item["pair"]):
        mine = {item["arm"]: item for item in group}
        shares = next(iter(mine.values()))["pair_shares"]
        body.append([pair, *(_seat(mine.get(arm)) for arm in ("flexible", "stiff")),
                     SHARED.get(shares, shares or "not known")])
    head = ["Pair", f"Flexible: {row['flexible_construction']}",
            f"Stiff: {row['stiff_construction']}", "Alike in"]
    return parts.section(
        "Who gets which, by coin",
        [f"A coin tossed from the number {seed}, for each pair on its own; anybody can toss it "
         "again. Save these rows as the trials log on the day of the start, with the true first "
         "day; both places of a pair begin with a new hose. ", downloads],
        parts.table(head, body, className="assignment"), how=how)


def _seat(item: Row | None) -> Any:
    if item is None:
        return html.Span("no place", className="absent")
    notes = []
    if item["n_failures"] is not None:
        notes.append(words.evidence(item["n_failures"], item["n_suspensions"]))
    if item["present_construction"]:
        notes.append(f"now {item['present_construction']}")
    return html.Div([parts.place_link(item["service_point"]),
                     html.Div(" · ".join(notes), className="below")])
