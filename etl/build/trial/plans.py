"""Plans of trials: where one pays, how large, how long, and what it would tell."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from etl.build.statistics import LifeStatistics
from etl.build.trial.arms import Arms, arms_of
from etl.build.trial.frames import candidate_row, log_rows, size_rows
from etl.build.trial.plan import VERDICTS, Plan, Size, verdict_before, verdict_on
from etl.build.trial.pools import Pool, pools
from etl.build.trial.pools import known as known_number
from etl.build.trial.screens import arm_screens, duties
from etl.build.trial.table import (
    Constructions,
    adopted_by_class,
    catalogue,
    decided,
    derating,
    prices,
    verdicts_by_class,
)
from etl.decide.trial.design import (
    MONTHS,
    chosen_size,
    claims,
    planned_failures,
    sizes,
)
from etl.decide.trial.safety import early_limit
from etl.decide.trial.value import TrialValue, value_of_trial
from etl.settings import Settings

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

LISTED = 10
"""Most candidates that are simulated, and most groups listed that need no trial; nobody starts
more trials than that."""
MOST_PAIRS = 16
"""Pairs of a plan; with more, the fitting of all hoses becomes the work of a year (our choice)."""
N_TRIALS = 400
"""Trials simulated for a plan: a chance of 0.9 is then known to 0.02."""
FIRST_LOOK = (10, 24)
"""Pairs and months at which groups of places are compared before their plans are made."""


def add_trial_plans(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, places: pd.DataFrame,
    mechanism: Mapping[str, tuple[str, float]], rate: Singles, planned_cost: Floats,
    settings: Settings,
) -> None:
    """Register the frames of candidates, sizes, screens of the arms, rows to record and verdicts.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``clean`` and ``fit``.
    found : LifeStatistics
    places : DataFrame
        One row a service point in rank order: the ranking and ``fit.places`` side by side.
    mechanism : mapping of service point to (mechanism, share)
    rate : ndarray, shape (n_places, n_draws)
        Multiplier of the hazard at each place, in the order of ``fit.places``.
    planned_cost : ndarray, shape (n_places,)
        Of a planned change, in the same order; NaN where unknown.
    settings : Settings
    """
    verdicts = decided(con)
    choice = Constructions(catalogue(con), derating(con), verdicts_by_class(verdicts),
                           prices(con))
    plans = trial_plans(found, pools(con, places, mechanism, choice), rate, planned_cost, choice,
                        settings)
    names = dict(con.execute("select mechanism, short from seeds.mechanisms order by 1").fetchall())
    register = duties(con, [str(plan.pool.anchor["service_point"]) for plan in plans])
    rows: dict[str, list[dict[str, Any]]] = {"candidates": [], "sizes": [], "screens": [],
                                             "log_rows": []}
    start = first_of_next_month(found.as_of)
    for rank, plan in enumerate(plans, start=1):
        rows["candidates"].append(candidate_row(rank, plan, names, settings))
        rows["sizes"] += size_rows(plan)
        rows["screens"] += arm_screens(plan.pool, register, choice)
        rows["log_rows"] += log_rows(plan, start, settings)
    con.register("trial_candidates_frame", _typed(rows["candidates"], CANDIDATE_COLUMNS))
    con.register("trial_sizes_frame", _typed(rows["sizes"], SIZE_COLUMNS))
    con.register("trial_screens_frame", _typed(rows["screens"], SCREEN_COLUMNS))
    con.register("trial_log_rows_frame", _typed(rows["log_rows"], LOG_COLUMNS))
    con.register("trial_verdicts_frame", verdicts.astype(
        {"is_adopted": "boolean", "decided_on": "datetime64[us]", "trial": "string",
         "application_class": "string", "construction": "string", "decision": "string"}))


def trial_plans(
    found: LifeStatistics, groups: list[Pool], rate: Singles, planned_cost: Floats,
    choice: Constructions, settings: Settings,
) -> list[Plan]:
    """Return the plans of the groups whose trials are worth most, best first.

    Notes
    -----
    Groups are compared by the closed form at one size before any is simulated, by what a trial or
    a switch without one would bring. A plan without a known cost comes after those with one.
    """
    waiting: list[tuple[bool, float, str, Pool, Arms]] = []
    plans: list[Plan] = []
    adopted = adopted_by_class(choice.verdicts)
    for pool in groups:
        arms = arms_of(found, pool, rate, settings)
        if not pool.pairs or arms is None:
            continue
        value, is_costed = _value(pool, arms, *FIRST_LOOK, planned_cost, choice, settings)
        chosen = adopted.get(str(pool.anchor["application_class"]))
        told = verdict_before(pool, arms, chosen, settings.trial_right_choice)
        if told is not None:
            plans.append(Plan(pool, arms, None, value, is_costed, 0.0, *told))
            continue
        at_stake = max(float(value.score), float(value.without))
        waiting.append((not is_costed, -at_stake, str(pool.anchor["service_point"]), pool, arms))
    waiting.sort(key=lambda entry: entry[:3])
    plans = sorted(plans, key=_order)[:LISTED] + [
        _plan(pool, arms, number, rate, planned_cost, choice, settings)
        for number, (*_, pool, arms) in enumerate(waiting[:LISTED])]
    return sorted(plans, key=_order)


def _order(plan: Plan) -> tuple[int, bool, float, str]:
    """Put what is worth a trial first, then what is to be switched, the most at stake first."""
    return (VERDICTS.index(plan.verdict), not plan.is_costed, -plan.at_stake,
            str(plan.pool.anchor["service_point"]))


def _plan(
    pool: Pool, arms: Arms, number: int, rate: Singles, planned_cost: Floats,
    choice: Constructions, settings: Settings,
) -> Plan:
    """Simulate trials of one group and choose their size."""
    rng = np.random.default_rng([settings.seed, number])
    world = arms.world(pool.pairs[:MOST_PAIRS], rate, N_TRIALS, rng)
    limit = early_limit(world.law.chance_by(settings.early_failure_days,
                                            float(world.known_rate.mean())))
    found = sizes(world, rng)
    grid = np.meshgrid(np.arange(1, world.n_pairs + 1), MONTHS, indexing="ij")
    by_size, _ = _value(pool, arms, *grid, planned_cost, choice, settings)
    n_pairs, months = chosen_size(found, settings.trial_right_choice, by_size.score)
    value, is_costed = _value(pool, arms, n_pairs, months, planned_cost, choice, settings)
    at = int(np.flatnonzero(MONTHS == months)[0])
    said = claims(world, n_pairs, months, planned_failures(found, n_pairs, at), rng)
    size = Size(found, said, n_pairs, months)
    return Plan(pool, arms, size, value, is_costed, limit, *verdict_on(arms, size, value))


def _value(
    pool: Pool, arms: Arms, n_pairs: ArrayLike, months: ArrayLike, planned_cost: Floats,
    choice: Constructions, settings: Settings,
) -> tuple[TrialValue, bool]:
    """Return what the trial is worth, and whether in money.

    Notes
    -----
    The other construction goes in at the next change anyway, so switching costs no more than its
    price, at every change of the horizon. A trial begins with new hoses: that costs a planned
    change each, less the half life or so that a change too early gives to the next hose.
    """
    members, horizon = pool.members, settings.trial_horizon_months
    costs = members["cost_per_failure"].to_numpy(np.float64)
    is_costed = bool(np.isfinite(costs).any())
    price = float(np.nanmean(costs)) if is_costed else 1.0
    life = 12.0 * len(members) / max(float(members["expected_failures"].sum()), 1e-9)
    planned = planned_cost[members["place"].to_numpy(np.int64)]
    change = float(np.nanmean(planned)) if np.isfinite(planned).any() and is_costed else 0.0
    dn = known_number(pool.anchor["dn"])
    extra = choice.extra_price(arms.other, arms.base, dn) if is_costed else 0.0
    pairs = np.minimum(np.asarray(n_pairs), len(pool.pairs))
    fitted = pairs if arms.base in (pool.arms.flexible, pool.arms.stiff) else 2 * pairs
    return value_of_trial(
        len(members), life, price, arms.log_ratio_of_other, arms.prior.log_life_ratio_sd,
        arms.prior.shape, extra * horizon / life, fitted * max(0.0, change - price / 2.0),
        pairs, months, horizon, settings.trial_within_pair_concentration,
    ), is_costed


def first_of_next_month(day: dt.date) -> dt.date:
    """Return the day on which a trial could begin at the earliest.

    Examples
    --------
    >>> first_of_next_month(dt.date(2026, 12, 31))
    datetime.date(2027, 1, 1)
    """
    return (day.replace(day=1) + dt.timedelta(days=32)).replace(day=1)


def _typed(rows: list[dict[str, Any]], columns: Mapping[str, str]) -> pd.DataFrame:
    """Return rows as a frame whose types do not hang on whether there are any."""
    return pd.DataFrame(rows, columns=list(columns)).astype(dict(columns))


CANDIDATE_COLUMNS = {
    "rank": "Int64", "service_point": "string", "trial": "string", "mate": "string",
    "mechanism": "string", "expected_failures_12_months": "Float64", "expected_cost": "Float64",
    "present_construction": "string", "flexible_construction": "string",
    "flexible_reason": "string", "stiff_construction": "string", "stiff_reason": "string",
    "stiffness_ratio": "Float64", "mass_ratio": "Float64", "months_to_ten_failures": "Float64",
    "reason": "string", "cautions": "string", "verdict": "string", "verdict_reason": "string",
    "value": "Float64", "value_unit": "string", "value_with": "Float64",
    "value_without": "Float64", "n_like_places": "Int64", "n_pairs_possible": "Int64",
    "n_pairs": "Int64", "n_hoses": "Float64", "months": "Int64", "planned_failures": "Float64",
    "expected_failures_trial": "Float64", "right_choice_probability": "Float64",
    "shown_probability": "Float64", "wrong_claim_probability": "Float64",
    "months_to_claim": "Float64", "life_ratio": "Float64", "life_ratio_lower": "Float64",
    "life_ratio_upper": "Float64", "life_ratio_basis": "string",
    "early_failure_limit": "Float64", "rule": "string",
}
SIZE_COLUMNS = {"service_point": "string", "n_pairs": "Int64", "months": "Int64",
                "right_choice_probability": "Float64", "expected_failures": "Float64",
                "is_planned": "boolean"}
SCREEN_COLUMNS = {"service_point": "string", "arm": "string", "construction": "string",
                  "screen": "string", "value": "Float64", "lower": "Float64", "upper": "Float64",
                  "limit_value": "Float64", "unit": "string", "ratio": "Float64",
                  "source": "string", "status": "string"}
LOG_COLUMNS = {
    "candidate": "string", "trial": "string", "service_point": "string", "arm": "string",
    "construction": "string", "started_on": "datetime64[us]", "pair": "string",
    "pair_shares": "string", "expected_failures_12_months": "Float64",
    "planned_end_on": "datetime64[us]", "planned_failures": "Float64",
    "early_failure_limit": "Float64", "expected_life_ratio": "Float64",
    "expected_life_ratio_log_sd": "Float64", "coin_seed": "Int64", "rule": "string",
}
