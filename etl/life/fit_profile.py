"""Maximum likelihood in the shape alone, for strata without interval lives.

With exact failures and suspensions the best characteristic life follows from the shape, so the
likelihood is a curve in log shape whose slope is solved for, in all strata at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.exposure import Exposure
from etl.life.status import SHAPE_CAP, SHAPE_FLOOR

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

LOG_FLOOR, LOG_CAP = float(np.log(SHAPE_FLOOR)), float(np.log(SHAPE_CAP))
UNTRIED_FLOOR, UNTRIED_CAP = LOG_FLOOR - 1e-3, LOG_CAP + 1e-3
"""Ends of the bracket until the slope at the floor or the cap itself is known."""
MAX_PASSES = 80
SMALL_STEP = 5e-3
PRECISION = 2e-9
"""A stratum is done after a small step that leaves no more than this in log shape."""
START_RANGE = (float(np.log(0.3)), LOG_CAP)
SCAN_SHAPES = 2.0 ** np.arange(-5.0, 7.0)
"""Shapes tried first where late entries may give the likelihood more than one peak."""


@dataclass
class ProfileFit:
    """Solution of the score equation in log shape, one value a stratum that was asked for.

    Attributes
    ----------
    log_shape : ndarray
    log_s0, q1, spread : ndarray
        Log of the exposure sum, first ratio ``S1 / S0`` and ``S2 / S0 - q1 ** 2`` there.
    score : ndarray
        Slope of the mean profile log-likelihood in log shape at the end.
    is_low, is_high : ndarray of bool
        The slope still falls towards shape 0, or still rises at the greatest shape allowed.
    """

    log_shape: Floats
    log_s0: Floats
    q1: Floats
    spread: Floats
    score: Floats
    is_low: Bools
    is_high: Bools


def solve_profile(
    exposure: Exposure, mean_log_failure: Floats, is_late: Bools
) -> ProfileFit:
    """Find the shape at which the profile likelihood is greatest.

    Parameters
    ----------
    exposure : Exposure
        Rows of the wanted strata, every stratum with at least one.
    mean_log_failure : ndarray, shape (n_keys,)
        Mean centred log age at failure, < 0.
    is_late : ndarray of bool, shape (n_keys,)
        Late entries occur, so that the slope may have more than one root.

    Returns
    -------
    ProfileFit

    Notes
    -----
    The score is ``1 + b * (mean - q1(b))``. Near the present shape, ``q1`` is replaced by the
    fraction ``q1 + V e / (1 + k e)`` in the change ``e`` of the shape, which has its first two
    derivatives; the score is then a quadratic. Two passes settle nearly every stratum. Steps are
    kept inside a bracket, settled strata leave, and series replace a pass after the last step.
    """
    n = mean_log_failure.size
    u = np.clip(np.log(-1.0 / (0.6 * mean_log_failure)), *START_RANGE)
    low, high = np.full(n, UNTRIED_FLOOR), np.full(n, UNTRIED_CAP)
    if bool(is_late.any()):
        some = exposure if bool(is_late.all()) else exposure.only(is_late)
        u[is_late], low[is_late], high[is_late] = _scan(some, mean_log_failure[is_late])
    out = ProfileFit(u, np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n),
                     np.zeros(n, np.bool_), np.zeros(n, np.bool_))
    active = np.arange(n)
    rows, in_rows = exposure, active
    for _ in range(MAX_PASSES):
        moments = _moments(rows, out.log_shape[in_rows])
        if in_rows.size != active.size:
            keep = np.isin(in_rows, active, assume_unique=True)
            moments = moments[:, keep]
        done = _advance(out, active, moments, mean_log_failure[active], low, high)
        active = active[~done]
        if not active.size:
            break
        if active.size < 0.7 * in_rows.size:
            rows = rows.only(np.isin(in_rows, active, assume_unique=True))
            in_rows = active
    return out


def _moments(rows: Exposure, log_shape: Floats) -> Floats:
    """Return log S0, q1, the spread V and its third-order companion, shape (4, n_keys)."""
    s0, s1, s2, s3 = rows.sums(np.exp(log_shape), 3)
    with np.errstate(divide="ignore", invalid="ignore"):  # no exposure left: handled as edges
        q1, q2, q3 = s1 / s0, s2 / s0, s3 / s0
        return np.stack([np.log(s0), q1, q2 - q1 * q1, q3 - q1 * (3.0 * q2 - 2.0 * q1 * q1)])


def _advance(
    out: ProfileFit, active: Ints, moments: Floats, mean: Floats, low: Floats, high: Floats
) -> Bools:
    """Move the active strata one step; return which of them are done."""
    log_s0, q1, spread, third = moments
    u = out.log_shape[active]
    b = np.exp(u)
    score = 1.0 + b * (mean - q1)
    rising = score > 0.0
    low[active] = np.where(rising, u, low[active])
    high[active] = np.where(rising, high[active], u)
    step = _step(b, score, mean - q1, spread, third)
    small = np.abs(step) < SMALL_STEP
    is_edge = ~rising & (u <= LOG_FLOOR) | rising & (u >= LOG_CAP)
    step = np.where(small, step, _kept_inside(u + step, low[active], high[active]) - u)
    step = np.where(is_edge, 0.0, step)
    e = b * np.expm1(step)
    out.log_shape[active] = u + step
    out.log_s0[active] = log_s0 + e * (q1 + e * (0.5 * spread + e * third / 6.0))
    out.q1[active] = q1 + e * (spread + 0.5 * e * third)
    out.spread[active] = spread + e * third
    out.score[active] = 1.0 + (b + e) * (mean - out.q1[active])
    out.is_high[active], out.is_low[active] = is_edge & rising, is_edge & ~rising
    # fraction and series differ by about what either leaves out
    left = np.abs(out.score[active]) <= PRECISION * np.abs(b * (mean - q1 - b * spread))
    return np.asarray(small & left | is_edge)


def _kept_inside(wanted: Floats, low: Floats, high: Floats) -> Floats:
    """Return the next log shape: the wanted one, an untried end, or the middle of the bracket."""
    middle = 0.5 * (low + high)
    below = np.where(low < LOG_FLOOR, LOG_FLOOR, middle)
    above = np.where(high > LOG_CAP, LOG_CAP, middle)
    return np.where(wanted <= np.maximum(low, LOG_FLOOR), below,
                    np.where(wanted >= np.minimum(high, LOG_CAP), above, wanted))


def _step(b: Floats, score: Floats, gap: Floats, spread: Floats, third: Floats) -> Floats:
    """Return the step in log shape, at most 1.5; where the score does not fall, 0.7 uphill."""
    falling = gap - b * spread < 0.0
    bend = np.where(spread > 0.0, -0.5 * third / np.where(spread > 0.0, spread, 1.0), 0.0)
    square = gap * bend - spread
    linear = gap + bend * score - b * spread
    root = np.sqrt(np.maximum(linear * linear - 4.0 * square * score, 0.0))
    divisor = np.where(falling, root - linear, 1.0)
    e = 2.0 * score / np.where(divisor > 0.0, divisor, 1.0)
    usable = falling & (divisor > 0.0) & (1.0 + bend * e > 0.2) & (e > -0.8 * b)
    newton = -score / np.where(falling, gap - b * spread, -1.0)
    step = np.where(usable, np.log1p(np.where(usable, e, 0.0) / b), newton / b)
    return np.clip(np.where(falling, step, 0.7 * np.sign(score)), -1.5, 1.5)


def _scan(exposure: Exposure, mean: Floats) -> tuple[Floats, Floats, Floats]:
    """Return start and bracket of the highest peak on a coarse ladder of shapes."""
    grid = np.full((SCAN_SHAPES.size, mean.size), -np.inf)
    for i, shape in enumerate(SCAN_SHAPES):
        s0 = exposure.sums(np.full(mean.size, shape), 0)[0]
        with np.errstate(divide="ignore", invalid="ignore"):
            value = np.log(shape) + shape * mean - np.log(s0)
        grid[i] = np.where(s0 > 0.0, value, -np.inf)
    best = np.argmax(grid, axis=0)
    ladder = np.log(SCAN_SHAPES)
    low = np.where(best > 0, ladder[np.maximum(best - 1, 0)], UNTRIED_FLOOR)
    above = ladder[np.minimum(best + 1, ladder.size - 1)]
    high = np.where(best + 1 < ladder.size, above, UNTRIED_CAP)
    return ladder[best], low, high
