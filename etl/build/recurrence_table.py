"""Failures that recur at places of a class, line or machine: how they add up, and how fast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

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


class Watch(NamedTuple):
    """Places of one class or group and their failures, ages in days since a place's first hose."""

    unit: Ints
    failed: Floats
    start: Floats
    end: Floats


def add_recurrence(con: duckdb.DuckDBPyConnection, confidence: float) -> None:
    """Register the frames of mean cumulative failures and of their trends.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.place_watch``.
    confidence : float
        Content of the ranges.
    """
    places = con.execute("select * from fit.place_watch order by service_point").df()
    classes = [({"application_class": str(name)}, rows)
               for name, rows in places.groupby("application_class", sort=True)]
    _register(con, ("mean_cumulative_failures_frame", "recurrence_trends_frame"),
              ("application_class",), classes, confidence)
    groups = [({"scope": scope, "site": _text(rows["site"].iloc[0]),
                "scope_name": _text(rows[scope].iloc[0])}, rows)
              for scope in GROUPS
              for _, rows in places.dropna(subset=[scope]).groupby(
                  ["site", scope], dropna=False, sort=True) if len(rows) >= LEAST_AT_RISK]
    _register(con, ("group_mean_failures_frame", "group_trends_frame"),
              ("scope", "site", "scope_name"), groups, confidence)


def _text(cell: Any) -> str | None:
    """Return a cell of text, None where nothing stands."""
    return None if pd.isna(cell) else str(cell)


def _register(
    con: duckdb.DuckDBPyConnection, names: tuple[str, str], keys: tuple[str, ...],
    groups: Sequence[tuple[Mapping[str, str | None], pd.DataFrame]], confidence: float,
) -> None:
    """Register curves and trends of groups of places, each with what it is called."""
    curves, trends = [_no_curve(keys)], [_no_trend(keys)]
    for label, rows in groups:
        watch = _watch(rows)
        curve = _curve(watch, confidence)
        if len(curve):
            curves.append(curve.assign(**label))
        trends.append(pd.DataFrame([{**label, **_trend(watch, confidence)}]))
    con.register(names[0], pd.concat(curves, ignore_index=True))
    frame = pd.concat(trends, ignore_index=True)
    for column in frame.columns.difference([*keys, "n_places", "n_failures"]):
        frame[column] = number_or_gap(frame[column].to_numpy(np.float64))
    con.register(names[1], frame)


def _watch(rows: pd.DataFrame) -> Watch:
    ages = [np.asarray(days, np.float64) for days in rows["failed_after_days"]]
    unit = np.repeat(np.arange(len(ages)), [part.size for part in ages])
    return Watch(unit, np.concatenate(ages), rows["start_days"].to_numpy(np.float64),
                 rows["end_days"].to_numpy(np.float64))


def _curve(watch: Watch, confidence: float) -> pd.DataFrame:
    """Return the mean number of failures of a place by its age, while enough are watched."""
    found = mean_cumulative_function(watch.unit, watch.failed, watch.end, start_age=watch.start,
                                     confidence=confidence, most_ages=MOST_AGES)
    frame = pd.DataFrame({
        "age_days": found.age, "n_places": found.n_at_risk, "mean": found.mean,
        "lower": found.lower, "upper": found.upper,
    })
    least = max(LEAST_AT_RISK, LEAST_SHARE_AT_RISK * watch.end.size)
    enough = np.flatnonzero(frame["n_places"].to_numpy() >= least)
    return frame.iloc[:enough[-1] + 1 if enough.size else 0]


def _trend(watch: Watch, confidence: float) -> dict[str, float]:
    """Return counts, tests against a steady rate and the power law of one class."""
    law = fit_power_law(*watch[:2], watch.end, start_age=watch.start, confidence=confidence)
    laplace = laplace_trend(*watch[:2], watch.end, start_age=watch.start)
    total = total_log_trend(*watch[:2], watch.end, start_age=watch.start)
    return {
        "n_places": watch.end.size, "n_failures": watch.failed.size,
        "place_years": float((watch.end - watch.start).sum() / DAYS_A_YEAR),
        "shape": law.shape, "shape_lower": law.shape_lower, "shape_upper": law.shape_upper,
        "laplace_statistic": laplace.statistic, "laplace_p_value": laplace.p_value,
        "total_log_statistic": total.statistic, "total_log_p_value": total.p_value,
    }


def _no_curve(keys: Sequence[str]) -> pd.DataFrame:
    """Return an empty frame whose columns have the types of a full one."""
    names = ("age_days", "n_places", "mean", "lower", "upper")
    return pd.DataFrame({name: pd.Series(dtype=np.float64) for name in names} | {
        key: pd.Series(dtype=str) for key in keys})


def _no_trend(keys: Sequence[str]) -> pd.DataFrame:
    nothing = Watch(np.zeros(0, np.intp), np.zeros(0), np.zeros(0), np.zeros(0))
    return pd.DataFrame([dict.fromkeys(keys, "") | _trend(nothing, 0.90)]).iloc[:0]
