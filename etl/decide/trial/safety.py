"""Safety stop of a trial: too many early failures in one arm, against a limit fixed beforehand."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_EARLY = 2
"""One early failure alone stops nothing, except in hazardous service."""
CHANCE = 0.01
"""An arm is stopped when so many early failures would be rarer than this at the limit."""
LIMIT_OVER_PRESENT = 1.5
"""The limit proposed: so many times the early failures of the present construction."""


def early_limit(present_chance: float) -> float:
    """Return the greatest chance of an early failure that an arm may have.

    Parameters
    ----------
    present_chance : float
        Chance that a hose of the present construction fails early at these places.

    Returns
    -------
    float
        A proposal; the site agrees or lowers it before the start.
    """
    return min(LIMIT_OVER_PRESENT * present_chance, 0.99)


def must_stop(fitted: Floats, early: Floats, limit: float, *, is_hazardous: bool) -> Bools:
    """Tell at each look whether an arm is to be stopped.

    Parameters
    ----------
    fitted : ndarray, any shape
        Hoses of the arm fitted so far.
    early : ndarray
        Those of them that failed early.
    limit : float
        From `early_limit`, as registered.
    is_hazardous : bool
        In hazardous service the first early failure stops the arm until it was torn down.

    Returns
    -------
    ndarray of bool

    Notes
    -----
    Hoses that are too young to have failed early count as fitted, so the stop comes late rather
    than falsely; a person who sees a danger stops at once, whatever this says.
    """
    if is_hazardous:
        return np.asarray(early >= 1)
    chance = stats.binom.sf(early - 1, fitted, limit)
    return np.asarray((early >= LEAST_EARLY) & (chance < CHANCE))
