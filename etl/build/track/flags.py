"""Places called failure-prone in earlier months: what they did since, and what like places did."""

from __future__ import annotations

from typing import Any

import duckdb
import numpy as np
import pandas as pd

from etl.build.track.origin import OURS
from etl.decide.scores import ratio_bounds
from etl.load.warehouse import run_sql

LEAST_DAYS = 90
"""Days since a flag below which it is too early to judge it."""


def track_flags(con: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """List each place at the first month end that flagged it.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.track_place_outcomes``.

    Returns
    -------
    DataFrame
        One row a basis and flagged place: failures since then, and the mean of the places of the
        same application class that were not flagged then, over the same days.
    """
    run_sql(con, "fit/track/60_track_flagged")
    return con.execute("select * from fit.track_flagged order by as_of, service_point, basis").df()


def flag_scores(flags: pd.DataFrame, confidence: float, seed: int) -> pd.DataFrame:
    """Score the flags that are at least `LEAST_DAYS` old.

    Parameters
    ----------
    flags : DataFrame
        From `track_flags`.
    confidence : float
    seed : int

    Returns
    -------
    DataFrame
        Columns as of `etl.build.track.scores.count_scores`, one row a basis and measure:
        ``flag_ratio`` (failures since over those of as many like places; ``expected`` holds the
        rate stated when they were flagged) and ``flag_faster`` (share of flagged places that
        failed more often since than like places did).
    """
    rows: list[dict[str, Any]] = []
    old = flags[(flags["days_since"] >= LEAST_DAYS) & (flags["n_like"] > 0)]
    for basis, part in old.groupby("basis", sort=True):
        failed, like = (part[name].to_numpy(np.float64) for name in
                        ("failed_since", "like_failed_since"))
        one = np.ones(len(part))
        stated = float(np.average(part["relative_rate"], weights=np.maximum(like, 1e-9)))
        for measure, above, below, expected in (
            ("flag_ratio", failed, like, stated),
            ("flag_faster", (failed > like).astype(np.float64), one, np.nan),
        ):
            lower, upper = ratio_bounds(above, below, block=1, confidence=confidence, seed=seed)
            rows.append({
                "basis": basis, "scope": "flagged place", "horizon_months": 0, "method": OURS,
                "measure": measure, "band": "",
                "value": above.sum() / below.sum() if below.sum() > 0 else np.nan,
                "lower": lower, "upper": upper, "expected": expected, "n_forecasts": len(part),
                "n_origins": part["as_of"].nunique(), "n_windows_apart": 1, "range_by": "places",
            })
    return pd.DataFrame(rows)
