"""Decisions about places: rates against peers, forecast, cost, rank and next step."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.aside import HERE, Aside
from etl.build.cost_days import cost_days
from etl.build.doubts import doubts
from etl.build.due_table import add_plan, make_plan, planned_changes
from etl.build.forecast import FleetForecast, forecast_fleet
from etl.build.other_readings import Ranked, other_b10, other_ranks
from etl.build.place_survival import place_survival
from etl.build.plan_effect import plan_effect
from etl.build.rates import seen_and_expected
from etl.build.removals import removal_laws
from etl.build.replacement_ages import Costs
from etl.build.spares.frames import add_spares
from etl.build.statistics import LifeStatistics
from etl.build.trial.plans import add_trial_plans
from etl.build.trial.table import (
    adopted_by_class,
    decided,
    places_in_trial,
    verdicts_by_class,
)
from etl.build.unknown_reasons import unknown_reasons
from etl.build.words import hazard_words, rank_reason
from etl.decide.cost import ChangeCost, change_cost
from etl.decide.next_step import PlaceFacts, PlannedChange, next_step
from etl.decide.ranking import Ranking, rank_places
from etl.life.frailty import PlaceRates, place_rates, rate_draws
from etl.life.recurrence import gap_trend
from etl.settings import Settings

Floats = NDArray[np.float64]
TREND_LEVEL = 0.05
LIKELY_DEAR = 0.25
"""Chance of being among the ten dearest from which on a place is called dear."""
LEAST_FOR_TREND = 4
"""Failures below which no trend is looked for."""


@dataclass(frozen=True)
class PlaceTable:
    """Service points as the decisions need them, sorted by name.

    Attributes
    ----------
    frame : DataFrame
        ``fit.places``.
    cell : ndarray of int, shape (n_places,)
        Cell of the present hose; -1 where none is in service.
    age : ndarray, shape (n_places,), days
    """

    frame: pd.DataFrame
    cell: NDArray[np.int64]
    age: Floats


def add_decisions(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, settings: Settings, aside: Aside = HERE
) -> None:
    """Register the frames of plan, rank, survival, forecast, trial candidates, spares, doubts.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``clean``, ``lives`` and ``fit``.
    found : LifeStatistics
    settings : Settings
    aside : Aside
        Shares the forecasts.
    """
    places = _places(con)
    u, m = found.draws.log_shape.astype(np.float64), found.draws.log_life.astype(np.float64)
    seen, expected = seen_and_expected(found.watched, found.strata, u, m)
    rates = place_rates(seen, expected, false_share=settings.flag_false_share,
                        confidence=settings.confidence)
    z = rate_draws(seen, expected, rates.concentration, u.shape[0], settings.seed + 1,
                   list(places.frame["service_point"]))
    cost = _costs(con, places, "register_cost", is_planned=False)
    planned = _costs(con, places, "register_planned_cost", is_planned=True)
    costs = Costs(cost.cost, planned.cost, planned.origin)
    removals = removal_laws(con, found.lives, found.share)
    plan = make_plan(found, places.frame, places.cell, places.age, z, costs, removals, settings)
    add_plan(con, plan, found, places.frame, places.cell, costs, settings)
    con.register("unknown_reasons_frame", unknown_reasons(con, found, removals))
    con.register("plan_effect_frame", plan_effect(
        found, places.frame, places.cell, places.age, z, plan, costs, removals,
        settings.confidence))
    fleet = forecast_fleet(found, places.cell, places.age, z, places.frame, cost.cost, plan.days,
                           removals, settings, aside)
    ranking = rank_places(fleet.expected_12_months, np.where(places.cell >= 0, cost.cost, np.nan),
                          confidence=settings.confidence)
    frame = _ranking_frame(con, found, places, seen, expected, rates, cost, fleet, ranking,
                           planned_changes(plan, found.as_of))
    con.register("ranking_frame", frame)
    con.register("place_survival_frame", place_survival(
        found, places.cell, z, places.frame["service_point"], settings.confidence))
    con.register("forecast_frame", fleet.forecast)
    con.register("late_failures_frame", fleet.late)
    wide = frame.merge(places.frame, on="service_point", validate="1:1").sort_values("rank")
    add_trial_plans(con, found, wide, _mechanisms(con), z, planned.cost, settings)
    part = places.frame["part_number"]
    add_spares(con, found, fleet, plan.expected_by(part),
               plan.certain_by(part) if found.late is None else {}, settings)
    classes = pd.Categorical(places.frame["application_class"]).codes.astype(np.int64)
    b10, ranks = other_b10(con, found), other_ranks(con, found, Ranked(
        seen, expected, rates.concentration,
        fleet.expected_12_months.mean(axis=1, dtype=np.float64), cost.cost, ranking.rank, classes))
    con.register("other_readings_frame", b10)
    con.register("other_ranks_frame", ranks)
    con.register("doubts_frame", doubts(con, b10, ranks))


def _places(con: duckdb.DuckDBPyConnection) -> PlaceTable:
    frame = con.execute("select * from fit.places order by place").df()
    frame["is_in_trial"] = frame["service_point"].isin(places_in_trial(con))
    adopted = adopted_by_class(verdicts_by_class(decided(con)))
    frame["adopted"] = [
        name if (name := adopted.get(kind)) != fitted else None
        for kind, fitted in zip(frame["application_class"], frame["construction"], strict=True)
    ]
    cell = frame["cell"].fillna(-1).to_numpy(np.int64)
    age = frame["age_days"].fillna(0.0).to_numpy(np.float64)
    return PlaceTable(frame, cell, age)


def _costs(
    con: duckdb.DuckDBPyConnection, places: PlaceTable, register: str, *, is_planned: bool
) -> ChangeCost:
    """Return what a failure, or a planned change, costs at each place."""
    recorded = con.execute(
        "select place, cost from fit.costs where is_planned = ? order by place, cost", [is_planned]
    ).fetchnumpy()
    classes = pd.Categorical(places.frame["application_class"]).codes.astype(np.int64)
    return change_cost(
        np.asarray(recorded["cost"], np.float64), np.asarray(recorded["place"], np.int64), classes,
        places.frame[register].to_numpy(np.float64, na_value=np.nan),
    )


def _mechanisms(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[str, float]]:
    """Return the commonest concluded mechanism of each place and its share of all failures."""
    rows = con.execute(
        "select service_point, mechanism, share from fit.place_mechanisms order by service_point"
    ).fetchall()
    return {place: (mechanism, share) for place, mechanism, share in rows}


def _trends(con: duckdb.DuckDBPyConnection) -> tuple[set[str], dict[str, int]]:
    """Return places whose lives get shorter beyond chance, and early failures by place."""
    falling, early = set(), {}
    for place, days, observed, n_early in con.execute(
        "select service_point, failed_after_days, observed_days, n_early from fit.place_failures "
        "order by service_point"
    ).fetchall():
        early[place] = n_early
        if len(days) >= LEAST_FOR_TREND:
            # A failure on the day of the first installation still lies after it.
            trend = gap_trend([max(day, 0.5) for day in days], max(observed, days[-1]) + 1.0)
            if trend.statistic > 0 and trend.p_value < TREND_LEVEL:
                falling.add(place)
    return falling, early


def _ranking_frame(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, places: PlaceTable, seen: Floats,
    expected: Floats, rates: PlaceRates, cost: ChangeCost, fleet: FleetForecast, ranking: Ranking,
    replacements: list[PlannedChange | None],
) -> pd.DataFrame:
    """Put every figure of a place side by side, with its reason and its next step."""
    has_hose = places.cell >= 0
    mechanisms, (falling, early) = _mechanisms(con), _trends(con)
    peers = places.frame.groupby("application_class")["service_point"].transform("count") - 1
    typical = _typical_cost(places, fleet, ranking)
    frame = pd.DataFrame({
        "rank": ranking.rank, "service_point": places.frame["service_point"],
        "expected_failures": fleet.mean, "expected_failures_lower": fleet.lower,
        "expected_failures_upper": fleet.upper, "expected_cost": ranking.cost,
        "expected_cost_lower": ranking.lower, "expected_cost_upper": ranking.upper,
        "probability_worst_ten": ranking.worst_ten_probability, "observed_failures": seen,
        "failures_expected_so_far": expected, "relative_rate": rates.rate,
        "relative_rate_lower": rates.lower, "relative_rate_upper": rates.upper, "n_peers": peers,
        "is_failure_prone": rates.is_prone, "failure_probability_90_days": fleet.chance,
        "failure_probability_90_days_lower": fleet.chance_lower,
        "failure_probability_90_days_upper": fleet.chance_upper, "cost_per_failure": cost.cost,
        "cost_origin": cost.origin, "is_tied_with_first": ranking.is_tied_with_first,
        "excess_cost": ranking.cost - typical,
    })
    for column in frame.columns:
        if frame[column].dtype == np.float64:
            values = frame[column].to_numpy()
            gaps = ~np.isfinite(values)
            frame[column] = pd.arrays.FloatingArray(np.where(gaps, 0.0, values), gaps)
    in_trial = set(places.frame["service_point"][places.frame["is_in_trial"]])
    reasons, steps = [], []
    chances, if_new = (np.nan_to_num(values) for values in (fleet.chance, fleet.chance_if_new))
    for at, (name, hazards, adopted) in enumerate(zip(
            places.frame["service_point"], places.frame["hazards"], places.frame["adopted"],
            strict=True)):
        chance = float(chances[at])
        reasons.append(rank_reason(
            round(seen[at]), expected[at], is_falling=name in falling, chance_90_days=chance,
            has_hose=bool(has_hose[at])))
        mechanism, share = mechanisms.get(name, (None, 0.0))
        steps.append(next_step(PlaceFacts(
            hazard_words(hazards), round(seen[at]), early.get(name, 0),
            float(expected[at]), bool(rates.is_prone[at]), mechanism, share,
            chance, float(if_new[at]), bool(has_hose[at]),
            bool(ranking.worst_ten_probability[at] >= LIKELY_DEAR), replacements[at],
            adopted if isinstance(adopted, str) else None, name in in_trial)))
    frame["reason"] = reasons
    frame["next_step"] = [step for step, _ in steps]
    frame["next_step_reason"] = [why for _, why in steps]
    return pd.concat([frame, cost_days(con, places.frame, cost.origin)], axis=1)


def _typical_cost(places: PlaceTable, fleet: FleetForecast, ranking: Ranking) -> Floats:
    """Return the median expected cost among the places of the same class."""
    cost = pd.Series(np.where(places.cell >= 0, ranking.cost, np.nan))
    return cost.groupby(places.frame["application_class"].to_numpy()).transform(
        "median").to_numpy()
