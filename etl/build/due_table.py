"""Planned work: when each hose is due, why, and how much work that makes each month."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.forecast import forecast_months, scope_frame, scope_keys
from etl.build.forecast_sums import Moments
from etl.build.planned_demand import PlannedDays, planned_demand
from etl.build.removals import Removal
from etl.build.replacement_ages import (
    N_DRAWS,
    Costs,
    PlaceAges,
    age_columns,
    cell_shapes,
    kind_ages,
    law_of,
    place_ages,
)
from etl.build.statistics import LifeStatistics, number_or_gap
from etl.build.track.laws import Present
from etl.build.words import day_words
from etl.decide.due import NO_WINDOW, Window, days_to_work
from etl.decide.next_step import PlannedChange
from etl.decide.preventive import Verdict
from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH, N_MONTHS
from etl.life.reporting_delay import late_chances, successor_age
from etl.settings import Settings, Shutdown

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
REQUIRED, PREVENTIVE = "required interval", "preventive age"


@dataclass(frozen=True)
class Plan:
    """What is planned at every place.

    Attributes
    ----------
    ages : PlaceAges
    days : PlannedDays
    shutdown : list of Shutdown or None, length n_places
        The shutdown that the work is drawn into.
    survival : ndarray, shape (n_places, n_draws of a place)
        Chance that the hose on record is still running on its day; 0 where none is set. It may
        have come out already where logs come late.
    reasons : list of str, length n_places
        Why that age, or why none.
    later : ndarray, shape (n_places, 12)
        Planned changes expected, month by month, of hoses that are put in meanwhile.
    """

    ages: PlaceAges
    days: PlannedDays
    shutdown: list[Shutdown | None]
    survival: Singles
    reasons: list[str]
    later: Floats

    def expected_by(self, keys: pd.Series[str]) -> dict[str, float]:
        """Return the planned changes expected within twelve months, by the key of each place."""
        chance = np.where(self.days.is_near, self.survival.mean(axis=1, dtype=np.float64), 0.0)
        total = pd.Series(chance + self.later.sum(axis=1)).groupby(keys.to_numpy()).sum()
        return {str(key): float(value) for key, value in total.items()}

    def certain_by(self, keys: pd.Series[str]) -> dict[str, Floats]:
        """Return the days of the changes within twelve months, by the key of each place.

        A place uses one hose by its day for certain, unless the hose on record may have been
        changed already.
        """
        near = self.days.is_near
        found = pd.Series(self.days.days[near]).groupby(keys.to_numpy()[near])
        return {str(key): np.asarray(days, np.float64) for key, days in found}


def make_plan(
    found: LifeStatistics, places: pd.DataFrame, cell: Ints, age: Floats, rate: Singles,
    costs: Costs, removals: Sequence[Removal], settings: Settings,
) -> Plan:
    """Find the age and the day at which each hose in service is to be changed.

    Parameters
    ----------
    found : LifeStatistics
    places : DataFrame
        ``fit.places``.
    cell : ndarray of int, shape (n_places,)
        Kind of the present hose, -1 where there is none.
    age : ndarray, shape (n_places,), days
    rate : ndarray, shape (n_places, n_draws)
    costs : Costs
    removals : sequence of Removal, one a cell
        How hoses came out unfailed so far; matters only where that is on record late.
    settings : Settings

    Returns
    -------
    Plan

    Notes
    -----
    The day is that of the hose on record, if it is still there; the chance that it is counts in
    every sum of planned changes.
    """
    shapes = cell_shapes(found, settings.confidence)
    ages = place_ages(found, places, cell, rate, costs, shapes, settings)
    days, shutdown = _dates(found.as_of, places, age, ages, settings)
    days = np.where(cell >= 0, np.floor(days), np.inf)
    planned = PlannedDays(days, ages.ruling.age)
    return Plan(ages, planned, shutdown, _survival(found, cell, age, rate, days, removals),
                ages.reasons(places), _later(found, cell, age, rate, planned, removals))


def add_plan(
    con: duckdb.DuckDBPyConnection, plan: Plan, found: LifeStatistics, places: pd.DataFrame,
    cell: Ints, costs: Costs, settings: Settings,
) -> None:
    """Register the frames of replacement ages by kind and by place, and of planned work.

    Parameters
    ----------
    con : DuckDBPyConnection
    plan : Plan
    found, places, cell, costs, settings
        As for `make_plan`.
    """
    shapes = cell_shapes(found, settings.confidence)
    con.register("preventive_ages_frame",
                 kind_ages(found, places, cell, costs, shapes, settings))
    con.register("replacement_ages_frame", _place_frame(plan, found.as_of, places, cell, costs))
    con.register("planned_work_frame", _work_frame(plan, found, places, costs, settings))


def _dates(
    as_of: dt.date, places: pd.DataFrame, age: Floats, ages: PlaceAges, settings: Settings
) -> tuple[Floats, list[Shutdown | None]]:
    """Return the days to each change, site by site, since shutdowns may be a site's own."""
    days = np.full(age.size, np.inf)
    shutdown: list[Shutdown | None] = [None] * age.size
    windows = settings.shutdown_windows()
    sites = places["site"].fillna("").to_numpy()
    for site in sorted(set(sites)):
        mine = np.flatnonzero(sites == site)
        near = [item for item in windows if item.site in ("", site)]
        spans = [Window((item.first - as_of).days, (item.last - as_of).days) for item in near]
        days[mine], chosen = days_to_work(age[mine], ages.ruling.of(mine), spans)
        for place, number in zip(mine, chosen, strict=True):
            if number != NO_WINDOW:
                shutdown[place] = near[number]
    return days, shutdown


def _survival(
    found: LifeStatistics, cell: Ints, age: Floats, rate: Singles, days: Floats,
    removals: Sequence[Removal],
) -> Singles:
    """Return the chance that each hose on record is still running on its day, by draw."""
    step = max(1, rate.shape[1] // N_DRAWS)
    z = rate[:, ::step]
    out = np.zeros(z.shape, np.float32)
    set_ = (cell >= 0) & np.isfinite(days)
    for number in np.unique(cell[set_]):
        mine = np.flatnonzero(set_ & (cell == number))
        law = law_of(found, int(number), step)
        passed = law.cumulative_hazard(age[mine] + days[mine]) - law.cumulative_hazard(age[mine])
        past = CellLaw(law.shape, law.log_life, removal=removals[number])
        gone, _ = late_chances(past, age[mine], z[mine], found.share)
        out[mine] = (1.0 - gone) * np.exp(-z[mine] * passed)
    return out


def _later(
    found: LifeStatistics, cell: Ints, age: Floats, rate: Singles, planned: PlannedDays,
    removals: Sequence[Removal],
) -> Floats:
    """Return the planned changes expected each month of hoses put in after the data date.

    A hose that is put in, by plan or after a failure, comes out as planned if it lasts so long:
    so many months later, the age rounded up to whole ones as in `planned_demand`. Where logs come
    late, one may be in already.
    """
    step = max(1, rate.shape[1] // N_DRAWS)
    z, again = rate[:, ::step], planned.again
    out = np.zeros((cell.size, N_MONTHS))
    soon = planned.is_near & (again < N_MONTHS * DAYS_A_MONTH)
    draws = replace(found.draws, log_shape=found.draws.log_shape[::step],
                    log_life=found.draws.log_life[::step])
    for block in planned_demand(draws, found.strata, Present(np.where(soon, cell, -1), age), z,
                                planned, removals, found.share):
        mine = block.places
        number = int(cell[mine[0]])
        months = int(np.ceil(again[mine[0]] / DAYS_A_MONTH))
        law = law_of(found, number, step)
        new = np.array([months * DAYS_A_MONTH])
        lasting = np.exp(-z[mine] * law.cumulative_hazard(new))
        put_in = np.diff(block.expected, axis=2, prepend=0.0)[..., :N_MONTHS - months]
        out[mine, months:] = (lasting[..., None] * put_in).mean(axis=1)
        if found.share.size > 1:
            young = successor_age(age[mine], found.share)
            past = CellLaw(law.shape, law.log_life, removal=removals[number])
            gone, _ = late_chances(past, age[mine], z[mine], found.share)
            left = lasting * np.exp(z[mine] * law.cumulative_hazard(young))
            month = ((new - young) / DAYS_A_MONTH).astype(int).clip(0, N_MONTHS - 1)
            out[mine, month] += (gone * left).mean(axis=1)
    return out


def planned_changes(plan: Plan, as_of: dt.date) -> list[PlannedChange | None]:
    """Return the planned change of each place, None where none is planned."""
    ruling = plan.ages.ruling
    columns = zip(ruling.age, plan.days.days, plan.reasons, ruling.is_required, strict=True)
    return [
        PlannedChange(float(age), float(days), day_words(as_of + dt.timedelta(int(days))), reason,
                      bool(is_required)) if np.isfinite(days) else None
        for age, days, reason, is_required in columns
    ]


def _planned_on(plan: Plan, as_of: dt.date) -> pd.DatetimeIndex:
    """Return the day of each planned change, not a time where none is planned."""
    days = plan.days.days
    whole = pd.to_timedelta(np.where(np.isfinite(days), days, np.nan), unit="D")
    return pd.DatetimeIndex(pd.Timestamp(as_of) + whole)


def _place_frame(
    plan: Plan, as_of: dt.date, places: pd.DataFrame, cell: Ints, costs: Costs
) -> pd.DataFrame:
    """Return one row a place with a hose in service: its age, the reason, its day."""
    ages, ruling = plan.ages, plan.ages.ruling
    pays = np.array([verdict is Verdict.PAYS for verdict in ages.verdict], bool)
    is_set = np.isfinite(ruling.age)
    on = _planned_on(plan, as_of)
    frame = pd.DataFrame({
        "service_point": places["service_point"],
        "method": pd.Series(np.where(ruling.is_required, REQUIRED, PREVENTIVE)).where(is_set),
        "replacement_age_days": number_or_gap(ruling.age), "reason": plan.reasons,
        "verdict": [str(verdict) for verdict in ages.verdict], **age_columns(ages.best, pays),
        "required_interval_days": number_or_gap(ages.required),
        "cost_per_planned_change": number_or_gap(costs.planned),
        "planned_cost_origin": list(costs.planned_origin),
        "cost_per_failure": number_or_gap(costs.failure),
        "planned_on": pd.Series(on),
        "is_overdue": np.isfinite(ruling.age) & (
            ruling.age < places["age_days"].fillna(0.0).to_numpy(np.float64)),
        "shutdown_first_on": [item.first if item else None for item in plan.shutdown],
        "shutdown_last_on": [item.last if item else None for item in plan.shutdown],
        "still_running_probability": number_or_gap(
            np.where(is_set, plan.survival.mean(axis=1, dtype=np.float64), np.nan)),
        "labour_h": places["labour_h"],
    })
    return frame[cell >= 0]


def _work_frame(
    plan: Plan, found: LifeStatistics, places: pd.DataFrame, costs: Costs, settings: Settings
) -> pd.DataFrame:
    """Return planned changes and their cost by month and scope, with predictive ranges.

    Lines are left out: the due list names every hose of theirs.
    """
    months = forecast_months(found)
    days = np.where(plan.days.is_near, plan.days.days, 0.0)
    on = pd.DatetimeIndex(pd.Timestamp(found.as_of) + pd.to_timedelta(days, unit="D"))
    month = months.searchsorted(on, side="right") - 1
    is_in_year = on < months[0] + pd.DateOffset(months=N_MONTHS)
    mine = np.flatnonzero(plan.days.is_near & (month >= 0) & is_in_year)
    chance = plan.survival[mine].astype(np.float64)
    price = np.nan_to_num(costs.planned[mine])[:, None]
    parts = (chance, chance * (1.0 - chance), price * chance, price**2 * chance * (1.0 - chance))
    again = np.flatnonzero(plan.later.any(axis=1))
    p = plan.later[again]
    cost = np.nan_to_num(costs.planned[again])[:, None]
    spread = np.maximum(p * (1.0 - p), 0.0)  # one hose a place and month, hardly ever two
    later_parts = (p, spread, cost * p, cost**2 * spread)
    frames = []
    scopes = {scope: keys for scope, keys in scope_keys(places).items() if scope != "line"}
    for scope, keys in scopes.items():
        code, names = pd.factorize(keys, sort=True)
        at = code[mine]
        known = at >= 0
        cells = at[known] * N_MONTHS + month[mine][known]
        totals = []
        for values, later in zip(parts, later_parts, strict=True):
            total = np.zeros((len(names) * N_MONTHS, chance.shape[1]))
            np.add.at(total, cells, values[known])
            by_month = total.reshape(len(names), N_MONTHS, chance.shape[1])
            named = code[again] >= 0
            np.add.at(by_month, code[again][named], later[named][..., None])
            totals.append(np.cumsum(np.moveaxis(by_month, 1, 2), axis=2))
        sums = Moments(tuple(str(name) for name in names), *totals)
        frames.append(scope_frame(scope, sums, months, settings.confidence))
    return pd.concat(frames, ignore_index=True)
