"""Failures seen at each place against those expected of its hoses' time in service."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives, sums
from etl.build.strata import Strata

Floats = NDArray[np.float64]

N_AGES = 240
"""Ages at which the cumulative hazard is kept; linear in log-log between them to 1e-4."""

N_DRAWS = 50
"""Draws in the mean cumulative hazard; its Monte Carlo error is far below a place's own."""


def mean_cumulative_hazard(
    log_shape: Floats, log_life: Floats, strata: Strata, n_cells: int, log_age: Floats
) -> Floats:
    """Return the cumulative hazard of all mechanisms, averaged over draws.

    Parameters
    ----------
    log_shape, log_life : ndarray, shape (n_draws, n_strata)
    strata : Strata
    n_cells : int
    log_age : ndarray, shape (n_ages,), log days

    Returns
    -------
    ndarray, shape (n_cells, n_ages)
    """
    step = max(1, log_shape.shape[0] // N_DRAWS)
    shape, life = np.exp(log_shape[::step]), log_life[::step]
    total = np.zeros((n_cells, log_age.size))
    for stratum in range(strata.n_strata):
        power = shape[:, stratum, None] * (log_age - life[:, stratum, None])
        total[strata.cell[stratum]] += np.exp(np.minimum(power, 50.0)).mean(axis=0)
    return total


def seen_and_expected(
    lives: Lives, strata: Strata, log_shape: Floats, log_life: Floats
) -> tuple[Floats, Floats]:
    """Count failures and expected failures at each place.

    Parameters
    ----------
    lives : Lives
    strata : Strata
    log_shape, log_life : ndarray, shape (n_draws, n_strata)
        Joint draws of the fleet's law.

    Returns
    -------
    seen, expected : ndarray, shape (n_places,)
        Failures of any mechanism; cumulative hazard between entry and end, added over lives.

    Notes
    -----
    A hose found failed counts its hazard up to the middle of its interval.
    """
    n_places = len(lives.places)
    seen = sums(lives.place[lives.is_failure], lives.count[lives.is_failure], n_places)
    if lives.cell.size == 0:
        return seen, np.zeros(n_places)
    end = lives.end
    oldest = max(float(end.max()), 1.0)
    log_age = np.linspace(np.log(min(0.25, oldest / 2)), np.log(oldest), N_AGES)
    table = np.log(np.maximum(
        mean_cumulative_hazard(log_shape, log_life, strata, lives.n_cells, log_age), 1e-300
    ))
    passed = _read(table, lives.cell, end, log_age) - _read(table, lives.cell, lives.entry, log_age)
    return seen, sums(lives.place, passed * lives.count, n_places)


def _read(table: Floats, cell: NDArray[np.int64], age: Floats, log_age: Floats) -> Floats:
    """Interpolate the cumulative hazard; 0 at age 0."""
    step = log_age[1] - log_age[0]
    with np.errstate(divide="ignore"):
        at = (np.log(age) - log_age[0]) / step
    low = np.clip(np.floor(np.maximum(at, 0.0)).astype(np.int64), 0, log_age.size - 2)
    left, right = table[cell, low], table[cell, low + 1]
    value = np.exp(left + (right - left) * (np.maximum(at, -1e6) - low))
    return np.where(age > 0.0, value, 0.0)
