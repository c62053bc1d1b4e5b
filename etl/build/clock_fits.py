"""Lives by another clock than the calendar: fits, curves and points in run hours and in cycles.

The same functions as for days, on the lives that readings of a meter tell; nothing is pooled.
"""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.aside import HERE, Aside
from etl.build.curve_points import ages_shown, labelled, points_of, survival_alone
from etl.build.lives import Lives, read_lives
from etl.build.standalone import Rows, standalone_rows
from etl.build.statistics import (
    LifeStatistics,
    cells_of,
    fit_names,
    fitted_alone,
    longest_lives,
    unknown_failures,
)
from etl.build.strata import Strata
from etl.build.words import clock_note

Floats = NDArray[np.float64]
COUNTS = ("n_cut", "n_cut_failures", "n_left_out", "n_left_out_failures", "n_without_meter",
          "n_not_from_start", "n_not_run")
LEFT_OUT = """
select cell, coalesce(sum(n) filter (where reading = 'cut'), 0) as n_cut,
    coalesce(sum(n) filter (where reading = 'cut' and is_failure), 0) as n_cut_failures,
    coalesce(sum(n) filter (where not is_told), 0) as n_left_out,
    coalesce(sum(n) filter (where not is_told and is_failure), 0) as n_left_out_failures,
    coalesce(sum(n) filter (where reading = 'no meter'), 0) as n_without_meter,
    coalesce(sum(n) filter (where reading = 'not from its start'), 0) as n_not_from_start,
    coalesce(sum(n) filter (where reading = 'no run'), 0) as n_not_run
from (select *, reading in ('whole', 'cut') as is_told from fit.clock_lives where clock = ?)
group by cell order by cell
"""
"""Counts are whole numbers, so that their sums do not depend on an order."""


@dataclass(frozen=True)
class ClockFigures:
    """What one clock tells of every fit: strata first, then cells.

    Attributes
    ----------
    estimates : DataFrame
        One row a fit: counts, status, estimates with bounds.
    points : DataFrame
        fit, age, failure_probability, kind.
    curves : DataFrame
        fit, age, survival, survival_lower, survival_upper; fits with an estimate only.
    """

    estimates: pd.DataFrame
    points: pd.DataFrame
    curves: pd.DataFrame


def add_clock_fits(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, confidence: float, aside: Aside = HERE
) -> None:
    """Register the frames of fits, curves and points by every clock that has readings.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.clock_lives``. ``clock_fits_frame``, ``clock_curves_frame`` and
        ``clock_points_frame`` are registered here, without rows where no meter tells a life.
    found : LifeStatistics
        Its kinds and mechanisms are those of the fits in days.
    confidence : float
        Content of the bounds.
    aside : Aside
        Does the fitting; frames are registered by its `finish`.
    """
    clocks = [row[0] for row in con.execute(
        "select distinct clock from fit.clock_lives where reading in ('whole', 'cut') order by 1"
    ).fetchall()]
    given = []
    for clock in clocks:
        lives = read_lives(con, clock)
        left_out = con.execute(LEFT_OUT, [clock]).df().set_index("cell").reindex(
            np.arange(lives.n_cells), fill_value=0.0)
        given.append((clock, lives, found.strata, left_out, confidence))

    def take(frames: tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]) -> None:
        for name, frame in zip(("fits", "points", "curves"), frames, strict=True):
            con.register(f"clock_{name}_frame", frame)

    aside.run(take, clock_frames, given)


def clock_frames(
    given: list[tuple[str, Lives, Strata, pd.DataFrame, float]],
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return fits, points and curves of some clocks, one after the other.

    Parameters
    ----------
    given : list of (clock, Lives, Strata, DataFrame, float)
        Lives in the unit of the clock; lives left out of each cell, in its order, as `COUNTS`;
        content of the bounds.

    Returns
    -------
    fits, points, curves : DataFrame
        As in the tables ``clock_fits``, ``clock_points`` and ``clock_curves``.
    """
    none = [name.split() for name in NO_ROWS]
    parts: tuple[list[pd.DataFrame], ...] = tuple([_empty(names)] for names in none)
    for clock, lives, strata, left_out, confidence in given:
        made = clock_figures(standalone_rows(lives, strata), lives, strata, confidence)
        own = cells_of(lives, strata)
        fits = pd.concat([fit_names(lives, strata), made.estimates], axis=1).assign(
            n_unknown=unknown_failures(lives)[own].astype(int),
            longest_life=longest_lives(lives)[own],
            **{name: left_out[name].to_numpy()[own].astype(int) for name in COUNTS})
        life = fits["characteristic_life"].to_numpy(np.float64, na_value=np.nan)
        fits["note"] = [clock_note(*both) for both in zip(fits["longest_life"], life, strict=True)]
        for into, frame in zip(parts, (fits, labelled(lives, strata, made.points),
                                       labelled(lives, strata, made.curves)), strict=True):
            into.append(frame.assign(clock=clock))
    fits, points, curves = (
        pd.concat(frames[1:], ignore_index=True) if len(frames) > 1 else frames[0]
        for frames in parts)
    return fits, points, curves


def clock_figures(rows: Rows, lives: Lives, strata: Strata, confidence: float) -> ClockFigures:
    """Fit every stratum on its own lives in the unit of a clock.

    Parameters
    ----------
    rows : Rows
        Of the lives.
    lives : Lives
    strata : Strata
    confidence : float

    Returns
    -------
    ClockFigures
    """
    fit, estimates, _ = fitted_alone(rows, confidence)
    estimates = estimates.rename(columns=lambda name: name.replace("_days", ""))
    points = points_of(rows)
    b10 = estimates["b10"].to_numpy(np.float64, na_value=np.nan)[strata.n_strata:]
    ages = ages_shown(lives, b10)[cells_of(lives, strata)]
    shares = survival_alone(fit, ages, confidence)
    known = np.flatnonzero(fit.has_estimate)
    curves = pd.DataFrame({"fit": np.repeat(known, ages.shape[1]), "age": ages[known].ravel(), **{
        name.replace("_alone", ""): [share for k in known for share in values[k]]
        for name, values in shares.items()}})
    return ClockFigures(estimates, pd.DataFrame({
        "fit": points.stratum, "age": points.age,
        "failure_probability": points.failure_probability,
        "kind": np.where(points.is_interval, "interval", "failed")}), curves)


KEY = "application_class construction mechanism clock"
NO_ROWS = (
    f"{KEY} status note n_lives n_failures n_intervals n_suspensions n_unknown {' '.join(COUNTS)} "
    "shape shape_lower shape_upper characteristic_life characteristic_life_lower "
    "characteristic_life_upper b10 b10_lower b10_upper log_likelihood mean_life longest_life",
    f"{KEY} kind age failure_probability",
    f"{KEY} age survival survival_lower survival_upper",
)
TEXTS = {*KEY.split(), "status", "note", "kind"}


def _empty(names: list[str]) -> pd.DataFrame:
    """Return a frame without rows whose columns have the types of a full one."""
    return pd.DataFrame({
        name: pd.Series(dtype=str if name in TEXTS else np.float64) for name in names})
