"""What B10 and the ten dearest places would be, had the doubtful rows another meaning."""

from __future__ import annotations

from dataclasses import dataclass, replace

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.lives import sums
from etl.build.rates import seen_and_expected
from etl.build.statistics import TENTH, LifeStatistics, number_or_gap
from etl.decide.other_reading import forecast_factor
from etl.decide.ranking import WORST, rank_places
from etl.life.fit import fit_strata

Floats = NDArray[np.float64]
RANKED = ("unknown reasons", "implied removals", "missing installations")
"""Doubts that move the ranking; whatever the mechanism, a failure counts there."""


@dataclass(frozen=True)
class Ranked:
    """The ranking as the logs are read.

    Attributes
    ----------
    seen, expected : ndarray, shape (n_places,)
    concentration : float
    failures : ndarray, shape (n_places,)
        Expected over the next twelve months.
    unit_cost : ndarray, shape (n_places,)
    rank : ndarray of int, shape (n_places,)
    classes : ndarray of int, shape (n_places,)
    """

    seen: Floats
    expected: Floats
    concentration: float
    failures: Floats
    unit_cost: Floats
    rank: NDArray[np.int64]
    classes: NDArray[np.int64]


def other_b10(con: duckdb.DuckDBPyConnection, found: LifeStatistics) -> pd.DataFrame:
    """Return B10 of each kind of hose under both readings of each doubt, of its own lives alone.

    Returns
    -------
    DataFrame
        doubt, application_class, construction, mechanism, n_rows, b10_days, b10_days_other;
        empty where lives do not allow an estimate.
    """
    keys = "doubt, cell, mechanism, n_doubted"
    kinds = con.execute(f"select distinct {keys} from fit.other_lives order by all").df()
    rows = con.execute(f"""
        select 2 * (dense_rank() over (order by {keys}) - 1) + is_other::bigint as stratum,
            entry, low, high, n
        from fit.other_lives order by all""").fetchnumpy()
    fit = fit_strata(rows["stratum"], rows["entry"], rows["low"], rows["high"], rows["n"],
                     2 * len(kinds))
    with np.errstate(invalid="ignore"):
        b10 = np.exp(np.log(fit.characteristic_life) + TENTH / fit.shape).reshape(-1, 2)
    cell, lives = kinds["cell"].to_numpy(np.int64), found.lives
    return pd.DataFrame({
        "doubt": kinds["doubt"],
        "application_class": [lives.classes[code] for code in lives.cell_class[cell]],
        "construction": [lives.constructions[code] for code in lives.cell_construction[cell]],
        "mechanism": kinds["mechanism"], "n_rows": kinds["n_doubted"],
        "b10_days": number_or_gap(b10[:, 0]), "b10_days_other": number_or_gap(b10[:, 1]),
    })


def other_ranks(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, ranked: Ranked
) -> pd.DataFrame:
    """Return the places among the ten dearest under either reading of each doubt.

    Returns
    -------
    DataFrame
        doubt, service_point, rank, rank_other.
    """
    frames = []
    for doubt in RANKED:
        more, further = _more(con, found, doubt)
        if not more.any() and not further.any():
            continue
        factor = forecast_factor(ranked.seen, ranked.expected, more, further, ranked.classes,
                                 ranked.concentration)
        failures = (ranked.failures * factor).astype(np.float32)[:, None]
        rank = rank_places(failures, ranked.unit_cost).rank
        top = (ranked.rank <= WORST) | (rank <= WORST)
        frames.append(pd.DataFrame({
            "doubt": doubt, "service_point": np.asarray(found.lives.places, object)[top],
            "rank": ranked.rank[top], "rank_other": rank[top]}))
    empty = pd.DataFrame({"doubt": pd.Series(dtype="str"), "service_point": pd.Series(dtype="str"),
                          "rank": pd.Series(dtype="int64"),
                          "rank_other": pd.Series(dtype="int64")})
    return pd.concat(frames, ignore_index=True) if frames else empty


def _more(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, doubt: str
) -> tuple[Floats, Floats]:
    """Return the failures and the expected failures that the other reading adds to each place."""
    lives, n_places = found.lives, len(found.lives.places)
    if doubt != RANKED[-1]:
        rows = con.execute("select place, n from fit.other_readings where doubt = ? order by place",
                           [doubt]).fetchnumpy()
        more = sums(np.asarray(rows["place"], np.int64), np.asarray(rows["n"]), n_places)
        return more, np.zeros(n_places)
    rows = con.execute("select * from fit.orphan_lives order by removal_no").fetchnumpy()
    low, high = (np.asarray(rows[name], np.float64) for name in ("low", "high"))
    added = replace(
        lives, cell=np.asarray(rows["cell"], np.int64), place=np.asarray(rows["place"], np.int64),
        entry=np.zeros(low.size), low=low, high=high, count=np.ones(low.size),
        mechanism=np.full(low.size, -2))
    draws = found.draws
    return seen_and_expected(added, found.strata, draws.log_shape.astype(np.float64),
                             draws.log_life.astype(np.float64))
