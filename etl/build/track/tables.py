"""Forecasts of earlier months beside their outcomes, as arrays and as the published table."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.statistics import number_or_gap
from etl.build.track.origin import CONSTANT, LAST_YEAR, OURS, PLUG_IN
from etl.decide.scores import count_crps, is_covered, mean_pinball, randomised_pit
from etl.life.count_forecasts import CountForecasts

Ints = NDArray[np.int64]
KEY = ["as_of", "scope", "scope_name", "horizon_months"]


@dataclass(frozen=True)
class Scored:
    """Every kept forecast of a count, by every method, with its outcome and scores.

    Attributes
    ----------
    frame : DataFrame
        One row a forecast: as_of, until, basis, scope, scope_name, horizon_months, method, mean,
        n_failed, is_over, cost_mean, cost_observed; pit, is_in_50, is_in_90, crps, pinball of
        what has come.
    counts : CountForecasts
        In the same order.
    """

    frame: pd.DataFrame
    counts: CountForecasts


def read_scored(con: duckdb.DuckDBPyConnection) -> Scored:
    """Join the kept forecasts to their outcomes and score them.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.track_counts`` and ``fit.track_outcomes``.

    Returns
    -------
    Scored
        A group that the register does not hold any more is left out: nothing can come of it.
    """
    frame = con.execute(
        "select c.*, o.until, o.n_failed, o.is_over, o.cost_mean, o.cost_observed "
        "from fit.track_counts as c join fit.track_outcomes as o "
        "using (as_of, scope, scope_name, horizon_months) "
        "order by c.as_of, c.scope, c.scope_name, c.horizon_months, c.method"
    ).df()
    kept = frame.pop("below")
    counts = CountForecasts(
        frame.pop("first").to_numpy(np.int64),
        np.r_[0, np.cumsum(kept.map(len))].astype(np.int64),
        np.concatenate([np.zeros(0), *kept]).astype(np.float64),
    )
    observed: Ints = frame["n_failed"].to_numpy(np.int64)
    pit = randomised_pit(counts, observed, frame.pop("uniform").to_numpy(np.float64))
    frame["pit"] = pit
    frame["is_in_50"], frame["is_in_90"] = is_covered(pit, 0.50), is_covered(pit, 0.90)
    frame["crps"] = count_crps(counts, observed)
    frame["pinball"] = mean_pinball(counts, observed)
    return Scored(frame, counts)


def track_forecasts(scored: Scored, confidence: float) -> pd.DataFrame:
    """Return the published table: our forecasts, the rivals' means, what came.

    Parameters
    ----------
    scored : Scored
    confidence : float
        Content of the wider range.

    Returns
    -------
    DataFrame
        One row an earlier month end, scope and span. Outcome and scores are empty where the span
        is not over yet.
    """
    frame = scored.frame.copy()
    tail = (1.0 - confidence) / 2.0
    for name, probability in (("lower", tail), ("upper", 1.0 - tail),
                              ("lower_50", 0.25), ("upper_50", 0.75)):
        frame[name] = scored.counts.quantile(probability)
    rivals = frame.pivot_table(index=KEY, columns="method", values="mean")
    ours = frame[frame["method"] == OURS].drop(columns="method").set_index(KEY)
    for method, name in ((LAST_YEAR, "last_year_mean"), (CONSTANT, "constant_rate_mean"),
                         (PLUG_IN, "plug_in_mean")):
        ours[name] = rivals[method]
    ours = ours.reset_index()
    is_over = ours["is_over"].to_numpy(bool)
    for name in ("n_failed", "pit", "crps", "cost_observed"):
        ours[name] = number_or_gap(np.where(is_over, ours[name].to_numpy(np.float64), np.nan))
    return ours


FORECAST_COLUMNS = {
    "as_of": "datetime64[ns]", "until": "datetime64[ns]", "basis": "str", "scope": "str",
    "scope_name": "str", "horizon_months": "int64", "mean": "float64", "lower": "int64",
    "upper": "int64", "lower_50": "int64", "upper_50": "int64", "n_failed": "float64",
    "pit": "float64", "crps": "float64", "last_year_mean": "float64",
    "constant_rate_mean": "float64", "plug_in_mean": "float64", "cost_mean": "float64",
    "cost_observed": "float64",
}
SCORE_COLUMNS = {
    "basis": "str", "scope": "str", "horizon_months": "int64", "method": "str", "measure": "str",
    "band": "str", "value": "float64", "lower": "float64", "upper": "float64",
    "expected": "float64", "n_forecasts": "int64", "n_origins": "int64",
    "n_windows_apart": "int64", "range_by": "str",
}
FLAG_COLUMNS = {
    "as_of": "datetime64[ns]", "basis": "str", "service_point": "str", "application_class": "str",
    "n_origins_flagged": "int64", "relative_rate": "float64", "observed_failures": "float64",
    "failures_expected_so_far": "float64", "days_since": "int64", "failed_since": "int64",
    "like_failed_since": "float64", "n_like": "int64",
}


def empty_table(columns: dict[str, str]) -> pd.DataFrame:
    """Return a table without rows, for an edition without a track record."""
    return pd.DataFrame({name: pd.Series([], dtype=kind) for name, kind in columns.items()})
