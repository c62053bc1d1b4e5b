"""What the plan prevents: failures by present habit, less those with its changes on top."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.due_table import Plan
from etl.build.forecast import forecast_months, scope_keys
from etl.build.forecast_sums import add_rows
from etl.build.planned_demand import STEPS_OF_DAYS
from etl.build.removals import Removal
from etl.build.replacement_ages import N_DRAWS, Costs, law_of
from etl.build.statistics import LifeStatistics
from etl.life.cell_law import CellLaw
from etl.life.renewal import BLOCK, DAYS_A_MONTH, N_MONTHS, forecast_places
from etl.life.reporting_delay import IN_TIME, late_chances, successor_age

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

GONE = np.float32(1e9)
"""Cumulative hazard of having been taken out, on a planned day and after it."""

HARDLY_EVER = (1.0, 60.0)
"""A habit of taking hoses out that never matters: a law with one is asked for its removals."""

COLUMNS = {
    "n_months": "int64", "month": "datetime64[us]", "scope": "str", "scope_name": "str",
    "n_planned": "int64", **dict.fromkeys((
        "added_changes", "added_cost", "prevented", "prevented_lower", "prevented_upper",
        "cost_prevented", "cost_prevented_lower", "cost_prevented_upper"), "float64")}
"""Columns of the answer, which has them without a place as well."""


@dataclass(frozen=True)
class PlannedLaw(CellLaw):
    """The law of a cell whose hoses come out by habit, and at the latest as planned.

    Attributes
    ----------
    removed_at : ndarray, shape (n,), days
        Age at which the hose now at each place is changed.
    again : float, days
        Age at which its successors are changed.
    """

    removed_at: Floats
    again: float

    def removal_hazard(self, age: Floats) -> Singles:
        """Return the cumulative hazard of coming out unfailed, shape (*age.shape, 1).

        Parameters
        ----------
        age : ndarray, shape (n_ages,) or (n_ages, n), days
            In even steps but for the last. The step that a change falls into counts no failure:
            changes stand at the nearest end of a step, so that this cancels over places.
        """
        limit = self.removed_at if age.ndim == 2 else self.again
        half = (age[1] - age[0]) / 2.0
        gone = GONE * (age >= limit + half)[..., None]
        return np.asarray(super().removal_hazard(age) + gone, np.float32)


def prevented_failures(
    law: CellLaw, age: Floats, rate: Singles, days: Floats, again: float, share: Floats = IN_TIME
) -> tuple[Floats, Floats]:
    """Forecast what planned changes prevent at places of one kind, and the changes they add.

    Parameters
    ----------
    law : CellLaw
        With removals by habit, which go on in both cases.
    age : ndarray, shape (n,), days
    rate : ndarray, shape (n, n_draws)
    days : ndarray, shape (n,)
        Until the hose at each place is changed.
    again : float, days
        Age at which successors are changed.
    share : ndarray, shape (k,)
        Of a month's removals on record 0, 1, ... months later.

    Returns
    -------
    prevented, added : ndarray, shape (n, n_draws, 12)
        Failures prevented, and hoses taken out unfailed beyond those of habit, within
        1, 2, ... 12 months.

    Notes
    -----
    The habit goes on beside the plan: a hose comes out by whichever is first, so that no change is
    credited with what the habit would have prevented anyway. Where the hose on record may have
    come out already, the effect is that of the hose which is there in either case.
    """
    on_record = _effect(law, age, rate, days, again)
    if share.size == 1:
        return on_record
    gone, _ = late_chances(law, age, rate, share)
    young = successor_age(age, share)
    after = _effect(law, young, rate, np.maximum(again - young, 1.0), again)
    prevented, added = (one + gone[:, :, None] * (other - one)
                        for one, other in zip(on_record, after, strict=True))
    return prevented, added


def _effect(
    law: CellLaw, age: Floats, rate: Singles, days: Floats, again: float
) -> tuple[Floats, Floats]:
    """Return `prevented_failures` where the hoses in service are those on record."""
    failures, unfailed = (np.zeros((2, age.size, rate.shape[1], N_MONTHS)) for _ in range(2))
    for planned in (False, True):
        for at in range(0, age.size, BLOCK):
            mine = np.arange(at, min(at + BLOCK, age.size))
            now: CellLaw = law
            if planned:
                now = PlannedLaw(law.shape, law.log_life, age[mine] + days[mine], again,
                                 removal=law.removal or HARDLY_EVER)
            for block in forecast_places(
                    now, mine, age[mine], rate[mine], least_steps=STEPS_OF_DAYS):
                failures[int(planned), block.places] = block.expected
                unfailed[int(planned), block.places] = block.changes - block.expected
    return failures[0] - failures[1], unfailed[1] - unfailed[0]


def plan_effect(
    found: LifeStatistics, places: pd.DataFrame, cell: Ints, age: Floats, rate: Singles,
    plan: Plan, costs: Costs, removals: list[Removal], confidence: float,
) -> pd.DataFrame:
    """Return what the plan prevents within 1 .. 12 months, by scope.

    Parameters
    ----------
    found : LifeStatistics
    places : DataFrame
        ``fit.places``.
    cell : ndarray of int, shape (n_places,)
        -1 where there is no hose.
    age : ndarray, shape (n_places,), days
    rate : ndarray, shape (n_places, n_draws)
    plan : Plan
    costs : Costs
    removals : list of Removal, one a cell
    confidence : float
        Content of the ranges, of what is not known of the lives: what one year would have brought
        without the plan is never seen.

    Returns
    -------
    DataFrame
        n_months, month, scope, scope_name, n_planned; prevented and cost_prevented with lower and
        upper; added_changes and added_cost, beyond those of habit.
    """
    mine = np.flatnonzero(plan.days.is_near & (cell >= 0))
    gone, more = _effects(found, cell, age, rate, plan, removals, mine)
    added = more.mean(axis=1)
    due = plan.days.days[mine, None] <= DAYS_A_MONTH * np.arange(1, N_MONTHS + 1)
    price, work = (np.nan_to_num(values[mine]) for values in (costs.failure, costs.planned))
    months = forecast_months(found)
    tail = (1.0 - confidence) / 2.0
    frames = [pd.DataFrame(columns=list(COLUMNS)).astype(COLUMNS)]
    for scope, keys in scope_keys(places).items():
        code, names = pd.factorize(keys, sort=True)
        group = code[mine]

        def total(
            values: Floats, weight: Floats | None = None, at: Ints = group, n: int = len(names)
        ) -> Floats:
            sums = np.zeros((n, int(np.prod(values.shape[1:]))))
            add_rows(sums, at, values, weight)
            return sums.reshape(n, *values.shape[1:])

        n_planned = total(due.astype(np.float64))
        parts = {"n_planned": n_planned.astype(np.int64), "added_changes": total(added),
                 "added_cost": total(added, work)}
        for what, values in (("prevented", total(gone)), ("cost_prevented", total(gone, price))):
            lower, upper = np.quantile(values, [tail, 1.0 - tail], axis=1)
            parts |= {what: values.mean(axis=1), f"{what}_lower": lower, f"{what}_upper": upper}
        frames.append(pd.DataFrame({
            "n_months": np.tile(np.arange(1, N_MONTHS + 1), len(names)),
            "month": np.tile(months, len(names)), "scope": scope,
            "scope_name": np.repeat([str(name) for name in names], N_MONTHS),
            **{name: values.ravel() for name, values in parts.items()}}))
    return pd.concat(frames, ignore_index=True)


def _effects(
    found: LifeStatistics, cell: Ints, age: Floats, rate: Singles, plan: Plan,
    removals: list[Removal], mine: Ints,
) -> tuple[Floats, Floats]:
    """Return `prevented_failures` of the places of `mine`, kind by kind."""
    step = max(1, rate.shape[1] // N_DRAWS)
    z = rate[:, ::step]
    gone, more = (np.zeros((mine.size, z.shape[1], N_MONTHS)) for _ in range(2))
    again = np.ceil(plan.days.again[mine] / DAYS_A_MONTH) * DAYS_A_MONTH
    again = np.minimum(again, (N_MONTHS + 1) * DAYS_A_MONTH)  # beyond the year all are alike
    for number, later in sorted(set(zip(cell[mine].tolist(), again.tolist(), strict=True))):
        here = np.flatnonzero((cell[mine] == number) & (again == later))
        law = law_of(found, number, step)
        law = CellLaw(law.shape, law.log_life, removal=removals[number])
        at = mine[here]
        gone[here], more[here] = prevented_failures(
            law, age[at], z[at], plan.days.days[at], later, found.share)
    return gone, more
