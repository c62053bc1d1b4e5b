"""Registered trials as rows: the state, the looks, the stays."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from etl.build.trial.register import Trial
from etl.build.words import day_words
from etl.decide.trial.sign_flip import LEAST_PAIRS
from etl.decide.trial.words import (
    MANY_MISTAKES,
    MANY_RETIRED,
    Rule,
    Standing,
    state_of,
)
from etl.decide.words import percent
from etl.settings import Settings

if TYPE_CHECKING:
    from etl.build.trial.watch import Watched

Row = dict[str, Any]
NOT_FIXED = (
    "No rule was fixed before the start, so nothing can be claimed; what is seen only helps to "
    "choose.")


def trial_row(
    trial: Trial, watched: Watched | None, as_of: dt.date, settings: Settings
) -> Row:
    """Return the published row of a trial.

    Parameters
    ----------
    trial : Trial
    watched : Watched or None
        None where there is nothing to look at yet.
    as_of : date
    settings : Settings
    """
    is_ended = trial.ended_on is not None or (
        trial.planned_end_on is not None and trial.planned_end_on <= as_of)
    row: Row = {
        "trial": trial.name, "application_class": trial.application_class,
        "first_arm": trial.arms[0], "second_arm": trial.arms[-1] if len(trial.arms) > 1 else None,
        "first_construction": trial.constructions[0],
        "second_construction": trial.constructions[-1] if len(trial.arms) > 1 else None,
        "started_on": trial.started_on, "ended_on": trial.ended_on,
        "planned_end_on": trial.planned_end_on, "decision": trial.row["decision"],
        "is_running": not is_ended and trial.row["decision"] is None, "n_pairs": len(trial.pairs),
        "n_places": len(trial.seats), "is_registered": trial.is_registered,
        "planned_failures": trial.row["planned_failures"], "is_hazardous": trial.is_hazardous,
        "rule": _rule(trial, settings), "coin_seed": trial.row["coin_seed"],
    }
    if watched is None:
        return row | _nothing_yet(trial, as_of)
    state, said = state_of(_standing(watched, is_ended))
    row |= _counts(watched) | _test(watched) | _ratios(watched)
    is_going_on = row["is_running"] and watched.stopped_arm is None
    return row | {
        "state": state, "words": said, "stopped_arm": watched.stopped_arm,
        "early_failure_limit": watched.limit, "warnings": " ".join(_warnings(watched)) or None,
        "next_look_on": _next_look(trial, as_of) if is_going_on else None,
    }


def _nothing_yet(trial: Trial, as_of: dt.date) -> Row:
    """Say why there is nothing to look at."""
    if trial.row["decision"]:
        return {"state": "decided", "words": f"Decided: {trial.row['decision']}."}
    if trial.started_on >= as_of:
        return {"state": "not begun", "words": f"Begins on {day_words(trial.started_on)}.",
                "next_look_on": _next_look(trial, trial.started_on)}
    return {"state": "no pairs", "words": "No two places stand side by side in two arms: nothing "
            "can be compared. Give both places of a pair the same entry under pair."}


def _rule(trial: Trial, settings: Settings) -> str:
    """Return the rule as registered; made from its numbers where its words were not kept."""
    if trial.row["rule"]:
        return str(trial.row["rule"])
    if not trial.is_registered or trial.planned_end_on is None:
        return NOT_FIXED
    return Rule(day_words(trial.planned_end_on), float(trial.row["planned_failures"]),
                float(trial.row["early_failure_limit"] or 0.0), settings.early_failure_days,
                len(trial.pairs), trial.is_hazardous).words()


def _standing(watched: Watched, is_ended: bool) -> Standing:
    trial, test = watched.trial, watched.test
    claimed, is_early = None, False
    if test is not None and test.claimed_at >= 0:
        # A statistic above 0 means that the second arm fails more than its share.
        claimed = trial.arms[int(test.statistic[test.claimed_at] < 0.0)]
        is_early = watched.looks[test.claimed_at] != trial.planned_end_on
    return Standing(
        trial.arms[0], trial.arms[1], trial.row["decision"], is_ended, trial.is_registered,
        len(trial.pairs), int(watched.seen.failed[-1].sum()), watched.stopped_arm, claimed,
        is_early, watched.is_settled, float(watched.ratio.second_longer[-1]))


def _counts(watched: Watched) -> Row:
    """Return hoses, hose-days, failures and expected failures by arm."""
    frame, out = watched.frame, Row()
    for side, name in enumerate(("first", "second")):
        mine = frame[frame["slot"] % 2 == side]
        out |= {
            f"{name}_hoses": len(mine), f"{name}_days": float((mine["end"] - mine["begin"]).sum()),
            f"{name}_failures": float(watched.seen.failed[-1, :, side].sum()),
            f"{name}_expected": float(watched.seen.expected[-1, :, side].sum()),
            f"{name}_early": float(watched.early[side]),
        }
    wrong = ~frame["is_as_assigned"]
    return out | {
        "n_misfitted": int(wrong.sum()), "n_unknown_reason": int(frame["is_unknown_reason"].sum()),
        "n_unpaired": len(watched.trial.seats) - 2 * len(watched.trial.pairs),
        "n_looks": len(watched.looks), "last_look_on": watched.looks[-1],
    }


def _test(watched: Watched) -> Row:
    """Return where the test stands; empty where nothing may be claimed."""
    test = watched.test
    if test is None:
        return {}
    boundary = float(test.boundary[-1])
    return {
        "statistic": float(test.statistic[-1]),
        "boundary": boundary if np.isfinite(boundary) else None,
        "error_spent": float(test.spent[-1]),
        "claimed_on": watched.looks[test.claimed_at] if test.claimed_at >= 0 else None,
    }


def _ratios(watched: Watched) -> Row:
    """Return the posterior of the life ratio as assigned, as treated, and for unknown reasons."""
    return {
        "life_ratio": float(watched.ratio.median[-1]),
        "life_ratio_lower": float(watched.ratio.lower[-1]),
        "life_ratio_upper": float(watched.ratio.upper[-1]),
        "second_longer_probability": float(watched.ratio.second_longer[-1]),
        "treated_life_ratio": float(watched.as_treated.median[-1]),
        "treated_life_ratio_lower": float(watched.as_treated.lower[-1]),
        "treated_life_ratio_upper": float(watched.as_treated.upper[-1]),
        "unknown_failed_life_ratio": float(watched.if_unknown_failed.median[-1]),
    }


def _warnings(watched: Watched) -> list[str]:
    """Return what weakens the trial."""
    trial, frame = watched.trial, watched.frame
    out = []
    if not trial.is_paired_before:
        out.append("The log names no pairs: places on one machine stand for them.")
    if len(trial.pairs) < LEAST_PAIRS:
        out.append(f"Fewer than {LEAST_PAIRS} pairs can never show a difference.")
    if len(frame) and (wrong := float((~frame["is_as_assigned"]).mean())) > MANY_MISTAKES:
        out.append(f"{percent(wrong)} of the hoses are of the other construction: the trial can no "
                   "longer show a difference of the planned size.")
    retired = [any(seat.retired_on is not None and seat.retired_on <= trial.stop for seat in pair)
               for pair in trial.pairs]
    if retired and float(np.mean(retired)) > MANY_RETIRED:
        out.append(f"{percent(float(np.mean(retired)))} of the pairs have a retired place.")
    return out


def _next_look(trial: Trial, day: dt.date) -> dt.date:
    """Return the end of the next month, or the planned end where that comes first."""
    following: dt.date = (pd.Timestamp(day) + pd.offsets.MonthEnd(1)).date()
    return min(following, trial.planned_end_on or following)


def look_rows(watched: Watched) -> list[Row]:
    """Return one row a look."""
    test, ratio = watched.test, watched.ratio
    return [
        {"trial": watched.trial.name, "look_on": day,
         "first_failures": float(watched.seen.failed[at, :, 0].sum()),
         "second_failures": float(watched.seen.failed[at, :, 1].sum()),
         "statistic": None if test is None else float(test.statistic[at]),
         "boundary": None if test is None or not np.isfinite(test.boundary[at])
         else float(test.boundary[at]),
         "life_ratio": float(ratio.median[at]), "life_ratio_lower": float(ratio.lower[at]),
         "life_ratio_upper": float(ratio.upper[at]),
         "second_longer_probability": float(ratio.second_longer[at])}
        for at, day in enumerate(watched.looks)
    ]


def stay_rows(watched: Watched) -> list[Row]:
    """Return one row a hose of the trial."""
    start = pd.Timestamp(watched.trial.started_on)
    return [
        {"trial": watched.trial.name, "pair": row["pair"], "service_point": row["service_point"],
         "arm": row["arm"], "assigned_construction": row["assigned"],
         "construction": row["construction"], "is_as_assigned": bool(row["is_as_assigned"]),
         "hose_id": row["hose_id"], "installed_on": row["installed_on"],
         "ended_on": start + pd.Timedelta(days=row["end"]), "is_over": bool(row["is_over"]),
         "is_failure": bool(row["is_failure"]), "life_id": int(row["life_id"])}
        for row in watched.frame.to_dict("records")
    ]


DAY, TEXT, REAL, WHOLE, YES = "datetime64[us]", "string", "Float64", "Int64", "boolean"
FRAMES: dict[str, dict[str, str]] = {
    "trial_states": {
        "trial": TEXT, "application_class": TEXT, "first_arm": TEXT, "second_arm": TEXT,
        "first_construction": TEXT, "second_construction": TEXT, "started_on": DAY,
        "ended_on": DAY, "planned_end_on": DAY, "decision": TEXT, "is_running": YES,
        "n_pairs": WHOLE, "n_places": WHOLE, "n_unpaired": WHOLE, "is_registered": YES,
        "is_hazardous": YES, "first_hoses": WHOLE, "second_hoses": WHOLE, "first_days": REAL,
        "second_days": REAL, "first_failures": REAL, "second_failures": REAL,
        "first_expected": REAL, "second_expected": REAL, "first_early": REAL,
        "second_early": REAL, "early_failure_limit": REAL, "stopped_arm": TEXT,
        "planned_failures": REAL, "n_looks": WHOLE, "last_look_on": DAY, "next_look_on": DAY,
        "statistic": REAL, "boundary": REAL, "error_spent": REAL, "claimed_on": DAY,
        "life_ratio": REAL, "life_ratio_lower": REAL, "life_ratio_upper": REAL,
        "second_longer_probability": REAL, "treated_life_ratio": REAL,
        "treated_life_ratio_lower": REAL, "treated_life_ratio_upper": REAL,
        "unknown_failed_life_ratio": REAL, "n_unknown_reason": WHOLE, "n_misfitted": WHOLE,
        "coin_seed": WHOLE, "state": TEXT, "words": TEXT, "warnings": TEXT, "rule": TEXT,
    },
    "trial_looks": {
        "trial": TEXT, "look_on": DAY, "first_failures": REAL, "second_failures": REAL,
        "statistic": REAL, "boundary": REAL, "life_ratio": REAL, "life_ratio_lower": REAL,
        "life_ratio_upper": REAL, "second_longer_probability": REAL,
    },
    "trial_stays": {
        "trial": TEXT, "pair": TEXT, "service_point": TEXT, "arm": TEXT,
        "assigned_construction": TEXT, "construction": TEXT, "is_as_assigned": YES,
        "hose_id": TEXT, "installed_on": DAY, "ended_on": DAY, "is_over": YES,
        "is_failure": YES, "life_id": WHOLE,
    },
}
