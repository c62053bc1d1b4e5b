"""Scores of the chances that earlier forecasts gave to single places."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.track.origin import METHODS, OURS, chance_column
from etl.build.track.scores import Units, units_of
from etl.decide.scores import brier_score, windows_apart

Floats = NDArray[np.float64]

SPANS = {"90_days": 3, "12_months": 12}
"""Spans of the chances, and the months by which their windows overlap."""
BANDS = (0.0, 0.05, 0.10, 0.20, 0.40, 1.0)
"""Chances put together to be held against what came."""


def chance_scores(
    con: duckdb.DuckDBPyConnection, confidence: float, seed: int
) -> pd.DataFrame:
    """Score the chance of at least one failure at each place, by span and method.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.track_place_outcomes``.
    confidence : float
    seed : int

    Returns
    -------
    DataFrame
        Columns as of `etl.build.track.scores.count_scores`; scope ``place``. Measures ``brier``,
        ``chance_bias`` (chances added up over places that failed, less 1), ``brier_gain``
        against rivals, and ``chance_band``: share that failed among the chances of a band, where
        ``expected`` is the mean of these chances.
    """
    rows: list[dict[str, Any]] = []
    for span, months in SPANS.items():
        frame = con.execute(
            f"select * from fit.track_place_outcomes where is_over_{span} "
            "order by as_of, service_point"
        ).df()
        for basis, part in frame.groupby("basis", sort=True):
            units = units_of(part["as_of"], part["service_point"], months, confidence, seed)
            n_origins = part["as_of"].nunique()
            same = {"basis": basis, "scope": "place", "horizon_months": months,
                    "n_origins": n_origins, "range_by": units.by,
                    "n_windows_apart": windows_apart(n_origins, months)}
            happened = part[f"happened_{span}"].to_numpy(bool)
            chance = {method: part[chance_column(method, span)].to_numpy(np.float64)
                      for method in METHODS}
            rows += [{**same, **row} for method in METHODS
                     for row in _scores(method, chance, happened, units)]
            rows += [{**same, **row} for row in _bands(
                chance[OURS], happened, part["as_of"], part["service_point"], months, confidence,
                seed)]
    return pd.DataFrame(rows)


def _scores(
    method: str, chance: dict[str, Floats], happened: NDArray[np.bool_], units: Units
) -> Iterator[dict[str, Any]]:
    """Yield the scores of one method."""
    one, came = np.ones(happened.size), happened.astype(np.float64)
    score = brier_score(chance[method], happened)
    found = {"brier": units.ratio(score, one)}
    value, lower, upper = units.ratio(chance[method], came)
    found["chance_bias"] = (value - 1.0, lower - 1.0, upper - 1.0)
    if method != OURS:
        value, lower, upper = units.ratio(brier_score(chance[OURS], happened), score)
        found["brier_gain"] = (1.0 - value, 1.0 - upper, 1.0 - lower)
    for measure, (value, lower, upper) in found.items():
        yield {"method": method, "measure": measure, "band": "", "value": value, "lower": lower,
               "upper": upper, "expected": 0.0 if measure == "chance_bias" else np.nan,
               "n_forecasts": happened.size}


def _bands(
    chance: Floats, happened: NDArray[np.bool_], origin: pd.Series[Any], place: pd.Series[str],
    months: int, confidence: float, seed: int,
) -> Iterator[dict[str, Any]]:
    """Yield what share failed among the places given a chance of each band."""
    number = np.clip(np.searchsorted(BANDS, chance, side="right") - 1, 0, len(BANDS) - 2)
    for band in np.unique(number):
        mine = np.flatnonzero(number == band)
        units = units_of(origin.iloc[mine], place.iloc[mine], months, confidence, seed)
        value, lower, upper = units.ratio(happened[mine].astype(np.float64), np.ones(mine.size))
        yield {"method": OURS, "measure": "chance_band",
               "band": f"{BANDS[band]:.0%} to {BANDS[band + 1]:.0%}".replace("%", " %"),
               "value": value, "lower": lower, "upper": upper,
               "expected": float(chance[mine].mean()), "n_forecasts": mine.size}
