"""Newton's climb to the peak of many likelihoods in two parameters at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

Evaluate = Callable[[Floats, Floats, Ints], tuple[Floats, ...]]
"""Parameters u, m of some strata and their numbers -> value, by u, by m, by uu, by um, by mm."""

MAX_PASSES = 100
SETTLED = 1e-5
"""A step below this is the last one: what it leaves is about its square."""
NO_RANGE = (-50.0, 50.0)


def climb(
    evaluate: Evaluate, u: Floats, m: Floats, which: Ints, longest: tuple[float, float],
    u_range: tuple[float, float] = NO_RANGE,
) -> tuple[Floats, Floats, Floats, Bools]:
    """Climb from a start to the peak in both parameters.

    Parameters
    ----------
    evaluate : callable
        Gives value and derivatives at given parameters for some of the strata.
    u, m : ndarray, shape (n,)
        Start; not changed.
    which : ndarray of int, shape (n,)
        Numbers of the strata, rising, as ``evaluate`` knows them.
    longest : (float, float)
        Longest step in u and in m.
    u_range : (float, float)
        A climb that reaches an end of this range is over, without a peak.

    Returns
    -------
    u, m, value : ndarray, shape (n,)
    is_peak : ndarray of bool, shape (n,)
        False where the end of the range was reached or no peak was found.

    Notes
    -----
    A step that lowers the value is halved. Where the surface is not curved downwards, the
    diagonal is strengthened until it is.
    """
    u, m = u.copy(), m.copy()
    sums = evaluate(u, m, which)
    value = sums[0].copy()
    du, dm = _step(sums, longest)
    active = np.arange(which.size)
    is_done, has_left = np.zeros(which.size, np.bool_), np.zeros(which.size, np.bool_)
    for _ in range(MAX_PASSES):
        outside = (u[active] >= u_range[1]) | (u[active] <= u_range[0])
        small = np.maximum(np.abs(du[active]), np.abs(dm[active])) < SETTLED
        has_left[active[outside]] = True
        last = active[small & ~outside]
        is_done[last] = True
        u[last] += du[last]
        m[last] += dm[last]
        active = active[~(small | outside)]
        if not active.size:
            break
        new_u = np.clip(u[active] + du[active], *u_range)
        new_m = m[active] + dm[active]
        sums = evaluate(new_u, new_m, which[active])
        good = sums[0] >= value[active] - 1e-12 * (1.0 + np.abs(value[active]))
        moved, stay = active[good], active[~good]
        u[moved], m[moved], value[moved] = new_u[good], new_m[good], sums[0][good]
        du[moved], dm[moved] = _step(tuple(part[good] for part in sums), longest)
        du[stay] *= 0.5
        dm[stay] *= 0.5
    sums = evaluate(u, m, which)
    curved = (sums[3] < 0.0) & (sums[3] * sums[5] > sums[4] * sums[4])
    return u, m, sums[0], is_done & ~has_left & curved


def _step(sums: tuple[Floats, ...], longest: tuple[float, float]) -> tuple[Floats, Floats]:
    """Return Newton's step in both parameters, limited in length."""
    _, by_u, by_m, by_uu, by_um, by_mm = sums
    a, c, e = -by_uu, -by_um, -by_mm
    concave = (a > 0.0) & (a * e - c * c > 1e-12 * np.abs(a * e))
    a = np.where(concave, a, np.abs(a) + np.abs(c) + 0.1 * (1.0 + np.abs(a)))
    e = np.where(concave, e, np.abs(e) + np.abs(c) + 0.1 * (1.0 + np.abs(e)))
    det = a * e - c * c
    du = (e * by_u - c * by_m) / det
    dm = (a * by_m - c * by_u) / det
    shrink = np.minimum(1.0, np.minimum(
        longest[0] / np.maximum(np.abs(du), 1e-300), longest[1] / np.maximum(np.abs(dm), 1e-300)))
    return du * shrink, dm * shrink
