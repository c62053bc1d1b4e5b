"""A registered trial: both arms on one time axis, test, choice, safety, mistakes in fitting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.trials import running_trial
from dashboard.parts.trial import arms as parts_arms
from dashboard.queries.edition import Row

LANE = 13
"""Pixels a place takes in the figure."""


def sentence(state: Row) -> list[Any]:
    """Return the sentence of a trial: what is shown, favoured or decided."""
    name = parts.strong(state["trial"], state["state"] == "safety stop")
    said = state["words"].removeprefix("Decided: ")
    return [name, ": " if said == state["words"] else " is decided: ", said]


def context(state: Row) -> list[str | None]:
    """Return the quiet line: pairs, counts, dates."""
    failures = (state["first_failures"] or 0) + (state["second_failures"] or 0)
    hoses = (state["first_hoses"] or 0) + (state["second_hoses"] or 0)
    ends = state["ended_on"] or state["planned_end_on"]
    end = None
    if ends:
        end = f"{'ended' if state['ended_on'] else 'planned to'} {words.date(ends)}"
    return [
        words.count(state["n_pairs"] or 0, "pair"),
        f"{failures:.0f} of {words.count(hoses, 'hose')} failed" if hoses else "no hose yet",
        f"since {words.date(state['started_on'])}", end,
        f"next look {words.date(state['next_look_on'])}" if state["next_look_on"] else None,
        state["warnings"],
    ]


def figure_block(
    state: Row, stays: Sequence[Row], looks: Sequence[Row], how: Any
) -> html.Section:
    """Return both arms on one time axis with the life ratio under them."""
    title = "Both arms side by side"
    if not looks:
        return parts.section(title, "", parts.empty("Nothing to look at yet."), how=how)
    lanes = len({(row["arm"], row["service_point"]) for row in stays})
    label = (f"{lanes} places in two arms on a time axis, failures marked; under them the life "
             f"ratio: {parts_arms.ratio_words(state)}")
    wrong = " Ochre: a hose of the other construction." if state["n_misfitted"] else ""
    caption = ("Above: a line a place, pairs in the same order in both arms; a heavy mark where a "
               "hose failed, a thin gap where it was changed, a point where it was in service at "
               f"the last look.{wrong} Below: the life ratio as believed at each month's "
               "look, band = 90 % range; it helps to choose and proves nothing.")
    height = 240 + LANE * lanes
    return parts.section(title, caption, parts.graph(
        "trial-course", running_trial(state, stays, looks), height, label), how=how)


def pairs_block(state: Row, stays: Sequence[Row], how: Any) -> html.Section:
    """Return the places of each pair, with what failed at either."""
    seats: dict[str, dict[str, dict[str, list[Row]]]] = {}
    for row in stays:
        of_arm = seats.setdefault(row["pair"], {}).setdefault(row["arm"], {})
        of_arm.setdefault(row["service_point"], []).append(row)
    arms = [state[f"{name}_arm"] for name in ("first", "second") if state[f"{name}_arm"]]
    body = [[pair or "none", *(_seats(found.get(arm, {})) for arm in arms)]
            for pair, found in sorted(seats.items(), key=lambda item: words.by_number(item[0]))]
    if not body:
        return parts.section("Pairs", "", parts.empty("No place has a hose of this trial yet."))
    return parts.section("Pairs", "Places that stand against each other, with the hoses of this "
                         "trial at each.",
                         parts.table(["Pair", *arms], body, className="assignment"), how=how)


def _seats(places: Mapping[str, Sequence[Row]]) -> Any:
    """Return the places of one arm in a pair, each with its failures."""
    if not places:
        return html.Span("no place", className="absent")
    return html.Div([html.Div([
        parts.place_link(place),
        html.Div(words.evidence(failed, len(rows) - failed), className="below"),
    ]) for place, rows in places.items() for failed in [sum(row["is_failure"] for row in rows)]])


def standing_block(state: Row, downloads: Any, how: Any) -> html.Section:
    """Return where the test, the choice and the safety stop stand."""
    terms = [item for name, said in (
        ("Claim", _claim(state)), ("Choice", _choice(state)), ("Safety", _safety(state)),
        ("As treated", _treated(state)), ("Unknown reasons", _unknown(state)),
    ) for item in (html.Dt(name), html.Dd(said))]  # fmt: skip
    return parts.section(
        "Where it stands by the rule",
        ["Each look is in the list: ", downloads], html.Dl(terms, className="terms wide"), how=how)


def _claim(state: Row) -> str:
    """Return the statistic against its boundary in words."""
    if not state["is_registered"]:
        return "none possible: no rule was registered before the start"
    if state["statistic"] is None:
        return "none possible: fewer than six pairs can show nothing"
    seen = (state["first_failures"] or 0) + (state["second_failures"] or 0)
    share = f"{seen:.0f} of {state['planned_failures']:.0f} planned failures seen"
    if state["claimed_on"]:
        early = state["claimed_on"] != state["planned_end_on"]
        tail = "; made before the planned end, a difference is likely overstated" if early else ""
        return f"made on {words.date(state['claimed_on'])}; {share}{tail}"
    if state["boundary"] is None:
        return f"not yet possible: {share}, too few to test"
    side = "fewer" if state["statistic"] < 0 else "more"
    off = words.number(abs(state["statistic"]), 3)
    return (f"not made: {state['second_arm']} has {off} {side} failures than its share, and a "
            f"claim needs more than {words.number(state['boundary'], 3)} either way; {share}; "
            + (f"chance of a wrong claim so far {words.percent(state['error_spent'])}"
               if state["error_spent"] else "so far no claim was possible"))


def _choice(state: Row) -> str:
    if state["life_ratio"] is None:
        return "nothing to compare yet"
    chance = state["second_longer_probability"]
    arm, chance = ((state["second_arm"], chance) if chance >= 0.5
                   else (state["first_arm"], 1.0 - chance))
    return f"{parts_arms.ratio_words(state)}; {arm} favoured with {words.percent(chance)}"


def _safety(state: Row) -> str:
    """Return early failures of both arms against the limit."""
    if state["early_failure_limit"] is None:
        return "nothing fitted yet"
    counts = ", ".join(_early(state, name) for name in ("first", "second"))
    verdict = "no stop"
    if state["stopped_arm"]:
        stop = "stop" if state["is_running"] else "would have stopped"
        verdict = f"{stop} the {state['stopped_arm']} arm"
    limit = f"limit {words.percent(state['early_failure_limit'])}"
    if state["is_hazardous"]:
        limit += "; in this service the first one stops an arm"
    return f"{verdict}; early failures: {counts}; {limit}"


def _early(state: Row, name: str) -> str:
    early = round(state[f"{name}_early"] or 0)
    hoses = words.count(state[f"{name}_hoses"] or 0, "hose")
    return f"{state[f'{name}_arm']} {f'{early:,}' if early else 'none'} of {hoses}"


def _treated(state: Row) -> str:
    """Return the ratio by the construction fitted, and how many hoses were mistakes."""
    if state["treated_life_ratio"] is None:
        return "nothing to compare yet"
    wrong = state["n_misfitted"] or 0
    if not wrong:
        return "the same: every hose has the construction of its arm"
    between = words.spread(state["treated_life_ratio_lower"], state["treated_life_ratio_upper"])
    return (f"{words.count(wrong, 'hose')} of the other construction; by the construction fitted "
            f"the ratio is {words.number(state['treated_life_ratio'])} ({between}); a claim is "
            "made as assigned only")


def _unknown(state: Row) -> str:
    n = state["n_unknown_reason"] or 0
    if not n:
        return "none"
    return (f"{words.count(n, 'removal')} without a reason, counted as suspensions; had they been "
            f"failures the ratio would be {words.number(state['unknown_failed_life_ratio'])}")


def arms_block(state: Row, how: Any) -> html.Section:
    """Return both arms with hoses, failures and hose-days."""
    body = []
    for name in ("first", "second"):
        if state[f"{name}_arm"] is None:
            continue
        days = state[f"{name}_days"]
        body.append([
            html.Strong(state[f"{name}_arm"]),
            state[f"{name}_construction"] or "construction not named",
            parts_arms.arm_counts(state, name),
            f"{days:,.0f} hose-days" if days else "no hose-day yet"])
    return parts.section("By arm", "Expected: the failures of each arm had both lived alike.",
                         parts.table(
        ["Arm", "Construction", "Failures", "Watched"], body, className="arms"), how=how)
