"""Lives as vibration sees them: whole where a place's installations are known from its first day.

A hose that was old when removals began to be recorded shows that its place is mild; a place whose
every hose is known shows nothing of the kind, and none of its lives need count from later than new.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives
from etl.build.removals import removal_laws
from etl.build.statistics import LifeStatistics

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MECHANISM = "vib_fatigue"
EVERY = 4
"""Of the joint draws of lives, those that share out failures of unknown mechanism."""
LEAST_DAYS = 0.5
LEAST_RATE = 1e-9
"""1/day: marks a hose of unknown end where nothing else was ever seen to take hoses out."""


def whole_lives(con: duckdb.DuckDBPyConnection, lives: Lives) -> tuple[Lives, Bools]:
    """Return the lives with those of whole histories in place of what the records alone show.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.vibration_histories``.
    lives : Lives

    Returns
    -------
    lives, is_doubtful
        The latter, shape (n,), tells which hoses came out before removals were recorded, nobody
        having written why.
    """
    rows = con.execute("select * from fit.vibration_histories order by all").fetchnumpy()
    keep = ~np.isin(lives.place, rows["place"])

    def with_whole(own: Any, column: str) -> Any:
        return np.concatenate([own[keep], np.asarray(rows[column]).astype(own.dtype)])

    whole = replace(
        lives, cell=with_whole(lives.cell, "cell"), entry=with_whole(lives.entry, "entry"),
        low=with_whole(lives.low, "low"), high=with_whole(lives.high, "high"),
        mechanism=with_whole(lives.mechanism, "mechanism"),
        place=with_whole(lives.place, "place"), count=with_whole(lives.count, "n"))
    doubtful = np.concatenate([np.zeros(keep.sum(), np.bool_), np.asarray(
        rows["is_doubtful"], np.bool_)])
    return whole, doubtful


def hazards(found: LifeStatistics, cell: int, age: Floats) -> tuple[Bools, Floats]:
    """Return the hazards of the mechanisms of a cell, by the pooled lives.

    Parameters
    ----------
    found : LifeStatistics
    cell : int
    age : ndarray, shape (n_ages,), days

    Returns
    -------
    is_vibration, log_hazard
        Shapes (n_own,) and (n_ages, n_draws, n_own); 1/day.
    """
    strata, draws = found.strata, found.draws
    own = np.flatnonzero(strata.cell == cell)
    shape = np.exp(draws.log_shape[::EVERY, own].astype(np.float64))
    life = draws.log_life[::EVERY, own].astype(np.float64)
    log_age = np.log(np.maximum(age, LEAST_DAYS))[:, None, None]
    log_hazard = np.log(shape) + (shape - 1.0) * log_age - shape * life
    names = found.lives.mechanisms
    code = names.index(MECHANISM) if MECHANISM in names else -1
    return strata.mechanism[own] == code, np.asarray(log_hazard)


def vibration_share(found: LifeStatistics, lives: Lives) -> Floats:
    """Return how far each life counts as a failure by vibration.

    Parameters
    ----------
    found : LifeStatistics
    lives : Lives

    Returns
    -------
    ndarray, shape (n_lives,)
        1 where concluded; 0 for a suspension and for another mechanism; for a failure of unknown
        mechanism the share of vibration in the hazard of its kind at its age, which the pooled
        lives of competing mechanisms give.
    """
    share = np.zeros(lives.mechanism.size)
    if MECHANISM not in lives.mechanisms:
        return share
    share[lives.mechanism == lives.mechanisms.index(MECHANISM)] = 1.0
    for cell in np.unique(lives.cell[lives.mechanism == -2]):
        rows = np.flatnonzero((lives.cell == cell) & (lives.mechanism == -2))
        is_it, hazard = hazards(found, int(cell), lives.end[rows])
        if not is_it.any():
            continue
        weight = np.exp(hazard - hazard.max(axis=2, keepdims=True))
        share[rows] = ((weight * is_it).sum(axis=2) / weight.sum(axis=2)).mean(axis=1)
    return share


def rival_rates(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, lives: Lives, is_doubtful: Bools
) -> tuple[Floats, Floats]:
    """Return how often hoses of an age come out for anything but vibration, where it counts.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.removals``.
    found : LifeStatistics
    lives : Lives
    is_doubtful : ndarray of bool, shape (n_lives,)

    Returns
    -------
    rate, share
        Shape (n_lives,): 1/day by other mechanisms and by removals of hoses that had not failed,
        0 where the reason is known; share of vibration in all that, to start from.
    """
    rate, share = np.zeros(lives.cell.size), np.zeros(lives.cell.size)
    if not is_doubtful.any():
        return rate, share
    laws = removal_laws(con, found.lives, found.share)
    for cell in np.unique(lives.cell[is_doubtful]):
        rows = np.flatnonzero(is_doubtful & (lives.cell == cell))
        age = np.maximum(lives.low[rows], LEAST_DAYS)
        is_it, hazard = hazards(found, int(cell), age)
        parts = np.exp(hazard).mean(axis=1)
        own, law = parts @ is_it, laws[int(cell)]
        rate[rows] = parts @ ~is_it
        if law is not None:
            rate[rows] += law[0] * np.exp((law[0] - 1.0) * np.log(age) - law[0] * law[1])
        rate[rows] = np.maximum(rate[rows], LEAST_RATE)
        share[rows] = own / (own + rate[rows])
    return rate, share
