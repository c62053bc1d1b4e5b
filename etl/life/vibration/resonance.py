"""How much more a hose shakes near its natural frequencies, as a term of log life."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MODES = (1.0, 2.757, 5.404)
"""Second and third lateral frequency over the first of a beam between fixed ends, any textbook."""
SHARES = (1.0, 0.5, 0.25)
"""How much each mode takes part (our choice: no value for hoses was found)."""
DAMPING = 0.05
"""Share of critical (our choice: no value for hoses was found)."""
STEP = 0.002
GRID = np.arange(-4.0, 4.0 + STEP / 2, STEP)


def _exact(q: Floats) -> Floats:
    total = np.ones_like(q)
    for ratio, share in zip(MODES, SHARES, strict=True):
        s = np.exp(q) / ratio
        total += share**2 / ((1.0 - s**2) ** 2 + (2.0 * DAMPING * s) ** 2)
    return np.asarray(0.5 * np.log(total) - 0.5 * np.log(1.0 + sum(x**2 for x in SHARES)))


TABLE = _exact(GRID)
RISE = np.diff(TABLE)


def resonance(q: Floats) -> Floats:
    """Return the log of the amplification near resonance; 0 far below it.

    Parameters
    ----------
    q : ndarray
        Log of excitation over first natural frequency; NaN where unknown.

    Returns
    -------
    ndarray
        Same shape; 0 where unknown. Linear between the points of a fine table.

    Examples
    --------
    >>> resonance(np.array([0.0, -3.0, np.nan])).round(2)
    array([1.89, 0.  , 0.  ])
    """
    unknown = np.isnan(q)
    at = np.where(unknown, GRID[0], q)
    at -= GRID[0]
    at /= STEP
    np.clip(at, 0.0, GRID.size - 1.001, out=at)
    low = at.astype(np.int32)
    at -= low
    at *= np.take(RISE, low)
    at += np.take(TABLE, low)
    at[unknown] = 0.0
    return np.asarray(at, np.float64)
