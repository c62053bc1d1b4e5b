"""Forecast of every place and of the fleet's parts: summed in each draw, then summarised."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from etl.build.aside import HERE, Aside
from etl.build.forecast_share import SomePlaces, forecast_share, shares_of_cells
from etl.build.forecast_sums import Counts, Moments, PartSums, ScopeSums
from etl.build.planned_demand import PlannedDays
from etl.build.removals import Removal
from etl.build.statistics import LifeStatistics
from etl.build.track.laws import Present
from etl.life.counts import count_ranges, scattered
from etl.life.renewal import N_MONTHS
from etl.settings import Settings

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class FleetForecast:
    """Forecast of all places.

    Attributes
    ----------
    expected_12_months : ndarray, shape (n_places, n_draws)
        0 where no hose is in service.
    mean, lower, upper : ndarray, shape (n_places,)
        Expected failures within twelve months; NaN where no hose is in service.
    chance, chance_lower, chance_upper : ndarray, shape (n_places,)
        Chance that the present hose fails within 90 days.
    chance_if_new : ndarray, shape (n_places,)
        The same for a new hose in its place, mean over draws.
    forecast : DataFrame
        By month and scope.
    by_part : Counts
        Hoses used by failures, planned changes, and removals by habit where none is planned.
    by_part_unplanned : Counts
        Hoses used without the plan: by failures and removals by habit.
    late : DataFrame
        One row: failures that have happened but are not on record yet, with range; share of a
        month's failures on record by its end, and months until all are.
    """

    expected_12_months: Singles
    mean: Floats
    lower: Floats
    upper: Floats
    chance: Floats
    chance_lower: Floats
    chance_upper: Floats
    chance_if_new: Floats
    forecast: pd.DataFrame
    by_part: Counts
    by_part_unplanned: Counts
    late: pd.DataFrame


def forecast_fleet(
    found: LifeStatistics, cell: Ints, age: Floats, rate: Singles, places: pd.DataFrame,
    price: Floats, planned: PlannedDays, removals: list[Removal], settings: Settings,
    aside: Aside = HERE,
) -> FleetForecast:
    """Forecast the failures of all places, and by part the hoses that are used.

    Parameters
    ----------
    found : LifeStatistics
    cell : ndarray of int, shape (n_places,)
        Cell of the present hose, -1 where there is none.
    age : ndarray, shape (n_places,), days
    rate : ndarray, shape (n_places, n_draws)
        Hazard multiplier of each place.
    places : DataFrame
        ``fit.places``, in the same order.
    price : ndarray, shape (n_places,), reporting currency
        Cost of one failure; NaN counts as nothing in sums of cost.
    planned : PlannedDays
        Changes that the plan sets count in the demand of parts only, in place of removals by
        habit: the other figures are of failures.
    removals : list of Removal, one a cell
        How hoses come out unfailed by habit.
    settings : Settings
    aside : Aside
        Shares the work; the figures do not depend on who does what.

    Returns
    -------
    FleetForecast
    """
    n_places, n_draws = rate.shape
    keys = scope_keys(places)
    share = found.share
    pieces = list(shares_of_cells(cell))
    done = aside.shared(forecast_share, [
        (found.draws, found.strata, removals, share, settings.confidence, SomePlaces(
            Present(cell[mine], age[mine]), rate[mine],
            {scope: of.iloc[mine].reset_index(drop=True) for scope, of in keys.items()},
            places["part_number"].iloc[mine].reset_index(drop=True), price[mine],
            PlannedDays(planned.days[mine], planned.again[mine])))
        for mine in pieces])
    scopes = ScopeSums(keys, n_draws)
    parts, unplanned = (PartSums(places["part_number"], n_draws) for _ in range(2))
    year = np.zeros((n_places, n_draws), np.float32)
    figures = np.where(cell >= 0, 0.0, np.full((7, 1), np.nan))
    missing = np.zeros((2, n_draws))
    for mine, piece in zip(pieces, done, strict=True):
        year[mine], figures[:, mine] = piece.year, piece.figures
        missing += piece.missing
        scopes.join(piece.scopes)
        parts.join(piece.parts)
        unplanned.join(piece.unplanned)
    months = forecast_months(found)
    frames = [
        scope_frame(scope, sums, months, settings.confidence)
        for scope, sums in scopes.moments().items()
    ]
    mean, lower, upper, chance, chance_lower, chance_upper, if_new = figures
    return FleetForecast(
        year, mean, lower, upper, chance, chance_lower, chance_upper, if_new,
        pd.concat(frames, ignore_index=True), parts.counts(), unplanned.counts(),
        late_frame(missing[0], missing[1], share, settings.confidence))


def late_frame(
    mean: Floats, variance: Floats, share: Floats, confidence: float
) -> pd.DataFrame:
    """Say how many failures are thought to have happened without being on record.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_draws,)
        Of their number in the fleet.
    share : ndarray, shape (k,)
        Of a month's failures on record 0, 1, ... months later.
    confidence : float
    """
    lower, upper = count_ranges(mean[None], scattered(mean, variance)[None], confidence)
    return pd.DataFrame({
        "late_failures": [mean.mean()], "late_failures_lower": lower.astype(np.float64),
        "late_failures_upper": upper.astype(np.float64), "on_record_in_month": share[:1],
        "months_until_on_record": [share.size - 1]})


def scope_keys(places: pd.DataFrame) -> dict[str, pd.Series[str]]:
    """Return the name of the group of each place, by scope; empty where it has none."""
    lines = (places["site"].fillna("") + ", " + places["line"]).str.removeprefix(", ")
    return {
        "fleet": pd.Series(["all"] * len(places)), "site": places["site"], "line": lines,
        "application_class": places["application_class"], "construction": places["construction"],
    }


def scope_frame(
    scope: str, sums: Moments, months: pd.DatetimeIndex, confidence: float
) -> pd.DataFrame:
    """Return counts and cost of each group in each single month, with predictive ranges.

    Parameters
    ----------
    scope : str
    sums : Moments
        Cumulative over the months.
    months : DatetimeIndex, length 12
    confidence : float

    Returns
    -------
    DataFrame
        month, scope, scope_name; mean, lower and upper of count and cost.
    """
    single: list[Any] = [
        np.diff(part, axis=2, prepend=part.dtype.type(0))
        for part in (sums.mean, sums.variance, sums.cost_mean, sums.cost_variance)]
    reach = float(stats.norm.ppf(0.5 + confidence / 2.0))
    mean, variance, cost, spread = (np.moveaxis(part, 2, 1) for part in single)
    lower, upper = (
        ends.reshape(mean.shape[:2]) for ends in count_ranges(
            mean.reshape(-1, mean.shape[2]),
            scattered(mean, variance).reshape(-1, mean.shape[2]), confidence))
    expected, money = (part.mean(axis=2, dtype=np.float64) for part in (mean, cost))
    total = np.sqrt(np.maximum(spread, 0.0).mean(axis=2) + cost.var(axis=2, dtype=np.float64))
    group, month = (index.ravel() for index in np.indices(expected.shape))
    return pd.DataFrame({
        "month": months[month], "scope": scope, "scope_name": np.asarray(sums.names)[group],
        "mean": expected.ravel(), "lower": lower.ravel(), "upper": upper.ravel(),
        "cost_mean": money.ravel(),
        "cost_lower": np.maximum(0.0, money - reach * total).ravel(),
        "cost_upper": (money + reach * total).ravel(),
    })


def forecast_months(found: LifeStatistics) -> pd.DatetimeIndex:
    """Return the first days of the twelve months that follow the data date.

    They are months of the calendar only where the data date ends one; else each begins on the same
    day of its month.
    """
    start = pd.Timestamp(found.as_of) + pd.Timedelta(days=1)
    return pd.DatetimeIndex([start + pd.DateOffset(months=k) for k in range(N_MONTHS)])
