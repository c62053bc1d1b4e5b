"""Scores of earlier forecasts by scope, span and method, each with its own range."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.lives import sums
from etl.build.track.origin import METHODS, OURS
from etl.decide.scores import ratio_bounds, windows_apart

Floats = NDArray[np.float64]

LEAST_APART = 6
"""Windows that do not overlap, below which months cannot say how far a score may be off."""
LEAST_BLOCK = 3
"""Months drawn together at least: errors of the life estimates last longer than one window."""
LEAST_GROUPS = 10
"""Groups from which on the differences between them say it instead."""
MOST_BUNDLES = 60
"""Groups are drawn in bundles when there are more."""
BY_MONTHS, BY_GROUPS = "months", "groups"


@dataclass(frozen=True)
class Units:
    """How the forecasts of a scope and a span are bundled to be drawn again.

    Attributes
    ----------
    number : ndarray of int, shape (n_forecasts,)
        Month, or bundle of groups, of each forecast.
    n_units, block : int
    by : str
        What is drawn; empty when too little is known for a range.
    confidence, seed
    """

    number: NDArray[np.int64]
    n_units: int
    block: int
    by: str
    confidence: float
    seed: int

    def ratio(self, above: Floats, below: Floats) -> tuple[float, float, float]:
        """Return the ratio of two sums over forecasts, and its range; NaN where there is none."""
        top, bottom = (sums(self.number, part, self.n_units) for part in (above, below))
        if not bottom.sum() > 0:
            return np.nan, np.nan, np.nan
        value = float(top.sum() / bottom.sum())
        if not self.by:
            return value, np.nan, np.nan
        return value, *ratio_bounds(top, bottom, block=self.block, confidence=self.confidence,
                                    seed=self.seed)


def units_of(
    origin: Any, group: Any, horizon_months: int, confidence: float, seed: int
) -> Units:
    """Choose what is drawn again: runs of months, groups, or nothing.

    Parameters
    ----------
    origin, group : sequence, length n_forecasts
        Month end and group of each forecast.
    horizon_months : int
    confidence : float
    seed : int

    Returns
    -------
    Units

    Notes
    -----
    Windows of twelve months starting every month repeat each other: two years hold two or three
    that do not, whatever their number. Groups of places share much less.
    """
    month, months = pd.factorize(pd.Series(origin), sort=True)
    code, names = pd.factorize(pd.Series(group), sort=True)
    if windows_apart(len(months), horizon_months) >= LEAST_APART:
        block = max(LEAST_BLOCK, horizon_months)
        return Units(month.astype(np.int64), len(months), block, BY_MONTHS, confidence, seed)
    n_bundles = min(len(names), MOST_BUNDLES)
    by = BY_GROUPS if len(names) >= LEAST_GROUPS else ""
    return Units((code % max(n_bundles, 1)).astype(np.int64), n_bundles, 1, by, confidence, seed)


def count_scores(frame: pd.DataFrame, confidence: float, seed: int) -> pd.DataFrame:
    """Score the forecasts of counts whose span is over.

    Parameters
    ----------
    frame : DataFrame
        From `etl.build.track.tables.read_scored`.
    confidence : float
    seed : int

    Returns
    -------
    DataFrame
        One row a basis, scope, span, method and measure: ``coverage_50`` and ``coverage_90``
        (share within the range, randomised), ``bias`` (forecast over outcome, less 1),
        ``cost_bias`` (the same of cost, over twelve months), ``crps`` and ``pinball`` (mean, in
        failures), and for rivals ``gain`` (share of their crps that our forecast saves) and
        ``nearer`` (share of forecasts in which ours scored better).
    """
    rows = []
    over = frame[frame["is_over"]]
    for basis, scope, months in sorted(set(zip(
            over["basis"], over["scope"], over["horizon_months"].map(int), strict=True))):
        part = over[(over["basis"] == basis) & (over["scope"] == scope)
                    & (over["horizon_months"] == months)]
        by_method = {method: part[part["method"] == method].sort_values(["as_of", "scope_name"])
                     for method in METHODS}
        ours = by_method[OURS]
        units = units_of(ours["as_of"], ours["scope_name"], months, confidence, seed)
        n_origins = ours["as_of"].nunique()
        same = {"basis": basis, "scope": scope, "horizon_months": months, "band": "",
                "n_forecasts": len(ours), "n_origins": n_origins,
                "n_windows_apart": windows_apart(n_origins, months), "range_by": units.by}
        for method, mine in by_method.items():
            for measure, expected, (value, lower, upper) in _measures(mine, ours, units):
                rows.append({**same, "method": method, "measure": measure, "value": value,
                             "lower": lower, "upper": upper, "expected": expected})
    return pd.DataFrame(rows)


def _measures(
    mine: pd.DataFrame, ours: pd.DataFrame, units: Units
) -> Iterator[tuple[str, float, tuple[float, float, float]]]:
    """Yield measure, the value that a right forecast has, and value with its range."""
    one = np.ones(len(mine))
    value = {name: mine[name].to_numpy(np.float64) for name in
             ("is_in_50", "is_in_90", "crps", "pinball", "mean", "n_failed")}
    yield "coverage_50", 0.50, units.ratio(value["is_in_50"], one)
    yield "coverage_90", 0.90, units.ratio(value["is_in_90"], one)
    yield "bias", 0.0, _less_one(units.ratio(value["mean"], value["n_failed"]))
    yield "crps", np.nan, units.ratio(value["crps"], one)
    yield "pinball", np.nan, units.ratio(value["pinball"], one)
    if mine is ours:
        told, came = (mine[name].to_numpy(np.float64) for name in ("cost_mean", "cost_observed"))
        if came.size and np.isfinite(told + came).all() and came.sum() > 0:
            yield "cost_bias", 0.0, _less_one(units.ratio(told, came))
        return
    best = ours["crps"].to_numpy(np.float64)
    share, lower, upper = units.ratio(best, value["crps"])
    yield "gain", np.nan, (1.0 - share, 1.0 - upper, 1.0 - lower)
    better = (best < value["crps"]) + 0.5 * (best == value["crps"])
    yield "nearer", 0.5, units.ratio(better, one)


def _less_one(found: tuple[float, float, float]) -> tuple[float, float, float]:
    value, lower, upper = found
    return value - 1.0, lower - 1.0, upper - 1.0
