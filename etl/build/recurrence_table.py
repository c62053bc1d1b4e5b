"""Failures that recur at places of a class, line or machine: how they add up, and how fast."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.aside import HERE, Aside
from etl.build.statistics import number_or_gap
from etl.life.power_law import fit_power_law, total_log_trend
from etl.life.recurrence import laplace_trend, mean_cumulative_function

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

MOST_AGES = 60
"""Points of a published curve; more cannot be told apart on a page."""
LEAST_AT_RISK, LEAST_SHARE_AT_RISK = 3, 0.05
"""Places, and share of all, that must still be watched: beyond, the curve follows the luck of a
few."""
DAYS_A_YEAR = 365.25
GROUPS = ("line", "equipment")
"""Columns that name a line or a machine of a site; one of fewer than `LEAST_AT_RISK` places has no
row."""

CURVE = "age_days", "n_places", "mean", "lower", "upper"
TREND = ("n_places", "n_failures", "place_years", "shape", "shape_lower", "shape_upper",
         "laplace_statistic", "laplace_p_value", "total_log_statistic", "total_log_p_value")


class Watch(NamedTuple):
    """Places of one class or group and their failures, ages in days since a place's first hose."""

    unit: Ints
    failed: Floats
    start: Floats
    end: Floats


class Watched:
    """All places and their failures, from which those of a group are taken.

    Parameters
    ----------
    places : DataFrame
        ``fit.place_watch``.
    """

    def __init__(self, places: pd.DataFrame) -> None:
        """Lay the failures of all places in a row: thousands of groups then cost no frame each."""
        ages = [np.asarray(days, np.float64) for days in places["failed_after_days"]]
        self._count = np.array([part.size for part in ages], np.intp)
        self._first = np.cumsum(self._count) - self._count
        self._failed = np.concatenate([np.zeros(0), *ages])
        self._start = places["start_days"].to_numpy(np.float64)
        self._end = places["end_days"].to_numpy(np.float64)

    def of(self, rows: Ints) -> Watch:
        """Return some places, in this order."""
        count = self._count[rows]
        unit = np.repeat(np.arange(rows.size), count)
        within = np.arange(unit.size) - np.repeat(np.cumsum(count) - count, count)
        return Watch(unit, self._failed[self._first[rows][unit] + within], self._start[rows],
                     self._end[rows])


def add_recurrence(con: duckdb.DuckDBPyConnection, confidence: float, aside: Aside = HERE) -> None:
    """Register the frames of mean cumulative failures and of their trends.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.place_watch``.
    confidence : float
        Content of the ranges.
    aside : Aside
        Does it while the build goes on.
    """
    def register(frames: dict[str, pd.DataFrame]) -> None:
        for name, frame in frames.items():
            con.register(name, frame)

    places = con.execute("select * from fit.place_watch order by service_point").df()
    aside.run(register, recurrence_frames, places, confidence)


def recurrence_frames(places: pd.DataFrame, confidence: float) -> dict[str, pd.DataFrame]:
    """Work out those frames.

    Parameters
    ----------
    places : DataFrame
        ``fit.place_watch``.
    confidence : float

    Returns
    -------
    dict of str to DataFrame
        By the name to register them under.
    """
    watched = Watched(places)
    classes = [({"application_class": name}, rows)
               for (name,), rows in _groups(places, ["application_class"])]
    curves, trends = _frames(("application_class",), watched, classes, confidence)
    groups = [({"scope": scope, "site": site, "scope_name": name}, rows)
              for scope in GROUPS for (site, name), rows in _groups(places, ["site", scope])
              if name is not None and rows.size >= LEAST_AT_RISK]
    group_curves, group_trends = _frames(
        ("scope", "site", "scope_name"), watched, groups, confidence)
    return {"mean_cumulative_failures_frame": curves, "recurrence_trends_frame": trends,
            "group_mean_failures_frame": group_curves, "group_trends_frame": group_trends}


def _groups(places: pd.DataFrame, by: list[str]) -> Iterator[tuple[tuple[str | None, ...], Ints]]:
    """Yield the places of each group, by name; None where nothing stands."""
    found = places.groupby(by, dropna=False, sort=True)
    number = found.ngroup().to_numpy(np.intp)
    order = np.argsort(number, kind="stable")
    names = [places[column].astype(object).where(places[column].notna(), None).to_numpy()
             for column in by]
    for rows in np.split(order, np.flatnonzero(np.diff(number[order])) + 1):
        if rows.size:
            yield tuple(column[rows[0]] for column in names), rows


def _frames(
    keys: tuple[str, ...], watched: Watched,
    groups: Sequence[tuple[Mapping[str, str | None], Ints]], confidence: float,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return curves and trends of groups of places, each with what it is called."""
    watches = [watched.of(rows) for _, rows in groups]
    curves = [_curve(watch, confidence) for watch in watches]
    trends = [_trend(watch, confidence) for watch in watches]
    length = [curve.shape[1] for curve in curves]
    # Of type str, so that a column without rows is one of text too.
    trend = pd.DataFrame({
        key: pd.Series([label[key] for label, _ in groups], dtype="str") for key in keys})
    curve = trend.iloc[np.repeat(np.arange(len(groups)), length)].reset_index(drop=True)
    values = np.concatenate([np.zeros((len(CURVE), 0)), *curves], axis=1)
    columns = np.array(trends, np.float64).reshape(len(trends), len(TREND)).T
    return curve.assign(**dict(zip(CURVE, values, strict=True))), trend.assign(**{
        name: column.astype(np.int64) if name in ("n_places", "n_failures") else
        number_or_gap(column) for name, column in zip(TREND, columns, strict=True)})


def _curve(watch: Watch, confidence: float) -> Floats:
    """Return the mean number of failures of a place by its age, while enough are watched.

    Returns
    -------
    ndarray, shape (5, n_ages)
        As `CURVE` names them.
    """
    found = mean_cumulative_function(watch.unit, watch.failed, watch.end, start_age=watch.start,
                                     confidence=confidence, most_ages=MOST_AGES)
    least = max(LEAST_AT_RISK, LEAST_SHARE_AT_RISK * watch.end.size)
    enough = np.flatnonzero(found.n_at_risk >= least)
    last = enough[-1] + 1 if enough.size else 0
    return np.stack([found.age, found.n_at_risk, found.mean, found.lower, found.upper])[:, :last]


def _trend(watch: Watch, confidence: float) -> tuple[float, ...]:
    """Return counts, the power law and tests against a steady rate, as `TREND` names them."""
    law = fit_power_law(*watch[:2], watch.end, start_age=watch.start, confidence=confidence)
    laplace = laplace_trend(*watch[:2], watch.end, start_age=watch.start)
    total = total_log_trend(*watch[:2], watch.end, start_age=watch.start)
    years = float((watch.end - watch.start).sum() / DAYS_A_YEAR)
    return (watch.end.size, watch.failed.size, years, law.shape, law.shape_lower, law.shape_upper,
            laplace.statistic, laplace.p_value, total.statistic, total.p_value)
