"""Plans of trials as rows: the candidate, its sizes, and the rows that record its start."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import numpy as np

from etl.build.trial.plan import Plan, Size
from etl.build.trial.pools import Pool, known
from etl.build.words import day_words, hazard_words
from etl.counted import counted
from etl.decide.next_step import DANGEROUS
from etl.decide.trial.candidates import cautions, months_to_failures
from etl.decide.trial.pairs import second_arm_is_on_second
from etl.decide.trial.words import Rule
from etl.decide.words import percent
from etl.settings import Settings

Row = dict[str, Any]
FIRST, SECOND = "flexible", "stiff"


def trial_name(plan: Plan) -> str:
    """Return the name under which the trial is proposed."""
    return f"Trial at {plan.pool.anchor['service_point']}"


def candidate_row(rank: int, plan: Plan, names: Mapping[str, str], settings: Settings) -> Row:
    """Return the published row of a candidate.

    Parameters
    ----------
    rank : int
    plan : Plan
    names : mapping of mechanism to its short name
    settings : Settings
    """
    pool, anchor = plan.pool, plan.pool.anchor
    pair = pool.pairs[0]
    mate = pair.second if pair.first == anchor["service_point"] else pair.first
    return {
        "rank": rank, "service_point": anchor["service_point"], "trial": trial_name(plan),
        "mate": mate, "mechanism": pool.mechanism,
        "expected_failures_12_months": anchor["expected_failures"],
        "expected_cost": known(anchor["expected_cost"]),
        "present_construction": anchor["construction"],
        "flexible_construction": pool.arms.flexible, "flexible_reason": pool.arms.flexible_reason,
        "stiff_construction": pool.arms.stiff, "stiff_reason": pool.arms.stiff_reason,
        "stiffness_ratio": pool.arms.stiffness_ratio, "mass_ratio": pool.arms.mass_ratio,
        "reason": reason(pool, names.get(pool.mechanism)),
        "cautions": cautions(hazard_words(anchor["hazards"])), "verdict": plan.verdict,
        "verdict_reason": plan.why, "n_like_places": len(pool.members),
        "n_pairs_possible": len(pool.pairs),
        **_worth(plan), **_belief(plan, settings), **_size(plan, settings),
    }


def _worth(plan: Plan) -> Row:
    """Return the value of the trial, in money only where a cost is known."""
    return {
        "value": float(plan.value.score), "value_with": float(plan.value.with_trial),
        "value_without": float(plan.value.without),
        "value_unit": "reporting currency" if plan.is_costed else "failures",
    }


def _belief(plan: Plan, settings: Settings) -> Row:
    """Return what is believed of the life ratio today."""
    tail = (1.0 - settings.confidence) / 2.0
    lower, middle, upper = np.exp(np.quantile(plan.arms.log_ratio, [tail, 0.5, 1.0 - tail]))
    return {"life_ratio": float(middle), "life_ratio_lower": float(lower),
            "life_ratio_upper": float(upper), "life_ratio_basis": plan.arms.basis,
            "early_failure_limit": plan.early_limit if plan.offered else None}


def _size(plan: Plan, settings: Settings) -> Row:
    """Return the size and what it would tell; empty where no trial is offered."""
    size = plan.offered
    taken = plan.pool.pairs[: size.n_pairs] if size else plan.pool.pairs
    yearly = sum(pair.expected_failures for pair in taken)
    out: Row = {"months_to_ten_failures":
                months_to_failures(yearly / 12.0, settings.trial_failures_wanted)}
    if size is None:
        return out
    to_claim = size.claims.months_to_claim
    return out | {
        "n_pairs": size.n_pairs,
        # Each place begins with a new hose, and every failure takes another one.
        "n_hoses": 2.0 * size.n_pairs + size.failures, "months": size.months,
        "planned_failures": size.planned_failures, "expected_failures_trial": size.failures,
        "right_choice_probability": size.right_choice,
        "shown_probability": size.claims.shown, "wrong_claim_probability": size.claims.wrong,
        "months_to_claim": to_claim if np.isfinite(to_claim) else None,
        "rule": rule_of(plan, size, f"{counted(size.months, 'month')} after the start",
                        settings).words(),
    }


def is_hazardous(hazards: object) -> bool:
    """Tell whether a release can hurt."""
    return bool(DANGEROUS.intersection(hazard_words(hazards)))


def rule_of(plan: Plan, size: Size, ends: str, settings: Settings) -> Rule:
    """Return the rule of a plan."""
    return Rule(ends, size.planned_failures, plan.early_limit, settings.early_failure_days,
                size.n_pairs, is_hazardous(plan.pool.anchor["hazards"]))


def reason(pool: Pool, cause: str | None) -> str:
    """Say why the place is a candidate."""
    failures = round(float(pool.anchor["observed_failures"]))
    faster = ("fails faster than its peers" if pool.anchor["is_failure_prone"]
              else "among the dearest places")
    is_named = cause is not None and pool.mechanism != "unknown"
    many = counted(failures, "failure")
    known = (f"{percent(pool.share)} of {many} by {cause}" if is_named
             else f"mechanism unknown in most of {many}")
    return f"{faster}; {known}; {counted(len(pool.members), 'like place')} at the site"


def size_rows(plan: Plan) -> list[Row]:
    """Return the chance of a right choice by pairs and months, where a size is offered."""
    size = plan.offered
    if size is None:
        return []
    found = size.found
    return [
        {"service_point": plan.pool.anchor["service_point"], "n_pairs": pairs + 1,
         "months": int(months), "right_choice_probability": float(found.right_choice[pairs, at]),
         "expected_failures": float(found.failures[pairs, at]),
         "is_planned": (pairs + 1, int(months)) == (size.n_pairs, size.months)}
        for pairs in range(found.right_choice.shape[0]) for at, months in enumerate(found.months)
        if np.isfinite(found.right_choice[pairs, at])
    ]


def log_rows(plan: Plan, start: dt.date, settings: Settings) -> list[Row]:
    """Return the rows of the trials log that record the start: places, arms and the rule.

    Parameters
    ----------
    plan : Plan
    start : date
        First day proposed.
    settings : Settings
    """
    size = plan.offered
    if size is None:
        return []
    month = start.month - 1 + size.months
    end = dt.date(start.year + month // 12, month % 12 + 1, 1) - dt.timedelta(days=1)
    prior = plan.arms.prior
    registered = {
        "candidate": plan.pool.anchor["service_point"], "trial": trial_name(plan),
        "started_on": start, "planned_end_on": end,
        "planned_failures": round(size.planned_failures, 1),
        "early_failure_limit": round(plan.early_limit, 4),
        "expected_life_ratio_log_sd": round(prior.log_life_ratio_sd, 4),
        "coin_seed": settings.seed,
        "rule": rule_of(plan, size, day_words(end), settings).words(),
    }
    expected = dict(zip(plan.pool.members["service_point"],
                        plan.pool.members["expected_failures"], strict=True))
    out: list[Row] = []
    for number, pair in enumerate(plan.pool.pairs[: size.n_pairs], start=1):
        swap = second_arm_is_on_second(trial_name(plan), pair, settings.seed)
        for place, is_second in ((pair.first, not swap), (pair.second, swap)):
            ratio = prior.log_life_ratio if is_second else -prior.log_life_ratio
            out.append(registered | {
                "service_point": place, "arm": SECOND if is_second else FIRST,
                "construction": plan.pool.arms.stiff if is_second else plan.pool.arms.flexible,
                "pair": f"{number:02d}", "pair_shares": pair.shares,
                "expected_failures_12_months": expected[place],
                "expected_life_ratio": round(float(np.exp(ratio)), 4),
            })
    return out
