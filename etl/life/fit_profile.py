"""Maximum likelihood in the shape alone, for strata without interval lives.

With exact failures and suspensions the best characteristic life follows from the shape, so the
likelihood is a curve in log shape whose slope is solved for, in all strata at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

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
    derivatives; the score is then a quadratic. Two passes settle nearly every stratum, the first
    of them in single precision. Steps are kept inside a bracket, settled strata leave, and series
    replace a pass after the last step.
    """
    n = mean_log_failure.size
    u, skew = _rough_start(exposure, mean_log_failure)
    low, high = np.full(n, UNTRIED_FLOOR), np.full(n, UNTRIED_CAP)
    if bool(is_late.any()):
        skew = None  # late entries are subtracted, which single precision does not survive
        some = exposure if bool(is_late.all()) else exposure.only(is_late)
        u[is_late], low[is_late], high[is_late] = _scan(some, mean_log_failure[is_late])
    out = ProfileFit(u, np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n),
                     np.zeros(n, np.bool_), np.zeros(n, np.bool_))
    is_active = np.ones(n, np.bool_)
    rows = exposure
    in_rows: Ints | slice = slice(None)
    for _ in range(MAX_PASSES):
        moments = _moments(rows, out.log_shape[in_rows], None if skew is None else skew[:, in_rows])
        active: Ints | slice = slice(None)
        if not bool(is_active.all()):
            active, still = np.flatnonzero(is_active), is_active[in_rows]
            moments = Moments(*(part[still] for part in moments))
        done = _advance(out, active, moments, mean_log_failure[active], low, high)
        is_active[active] = ~done
        n_active = int(np.count_nonzero(is_active))
        if not n_active:
            break
        if n_active < 0.7 * rows.runs.keys.size:
            rows = rows.only(is_active[in_rows])
            in_rows = np.flatnonzero(is_active)
    return out


class Moments(NamedTuple):
    """Figures of the exposure at one shape a stratum, each of shape (n_keys,)."""

    log_s0: Floats
    q1: Floats
    spread: Floats
    third: Floats
    doubt: Floats
    """What the third may be wrong by."""


def _rough_start(exposure: Exposure, mean: Floats) -> tuple[Floats, Floats | None]:
    """Return log shapes near the peak, and the skewness of the weighted log ages there.

    The second row of the skewness is its doubt: it changes by about as much as the log shape.
    """
    guess = (2.3 - 2.0 / np.sqrt(exposure.runs.sizes)) / -mean  # found by trial
    u = np.clip(np.log(guess), *START_RANGE)
    _, q1, spread, third, _ = _moments(exposure, u, is_rough=True)
    b = np.exp(u)
    step = _step(b, 1.0 + b * (mean - q1), mean - q1, spread, third)
    with np.errstate(divide="ignore", invalid="ignore"):
        skew = np.where(spread > 0.0, third / (spread * np.sqrt(spread)), 0.0)
    return np.clip(u + step, *START_RANGE), np.stack([skew, np.abs(step)])


def _moments(
    rows: Exposure, log_shape: Floats, skew: Floats | None = None, is_rough: bool = False
) -> Moments:
    """Return the figures at some shapes; from a given skewness, a sum less has to be made."""
    sums = rows.sums(np.exp(log_shape), 3 if skew is None else 2, is_rough)
    with np.errstate(divide="ignore", invalid="ignore"):  # no exposure left: handled as edges
        q1, q2 = sums[1] / sums[0], sums[2] / sums[0]
        spread = q2 - q1 * q1
        if skew is None:
            third = sums[3] / sums[0] - q1 * (3.0 * q2 - 2.0 * q1 * q1)
            doubt = np.zeros(q1.size)
        else:
            third, doubt = skew * (spread * np.sqrt(spread))
        return Moments(np.log(sums[0]), q1, spread, third, doubt)


def _advance(
    out: ProfileFit, active: Ints | slice, moments: Moments, mean: Floats, low: Floats,
    high: Floats,
) -> Bools:
    """Move the active strata one step; return which of them are done."""
    log_s0, q1, spread, third, doubt = moments
    u = out.log_shape[active].copy()  # a slice is a view of what is written below
    b = np.exp(u)
    gap = mean - q1
    score = 1.0 + b * gap
    is_low, is_high = (score <= 0.0) & (u <= LOG_FLOOR), (score > 0.0) & (u >= LOG_CAP)
    is_edge = is_low | is_high
    step = _step(b, score, gap, spread, third)
    if bool(is_edge.any()):
        step[is_edge] = 0.0
    e = b * np.expm1(step)
    change = e * (spread + 0.5 * e * third)
    end = 1.0 + (b + e) * (gap - change)
    out.log_shape[active] = u + step
    out.log_s0[active] = log_s0 + e * (q1 + e * (0.5 * spread + e * third / 6.0))
    out.q1[active] = q1 + change
    out.spread[active] = spread + e * third
    out.score[active] = end
    out.is_low[active], out.is_high[active] = is_low, is_high
    small = np.abs(step) < SMALL_STEP
    # fraction and series differ by about what either leaves out
    left = np.abs(end) + b * e * e * doubt <= PRECISION * np.abs(b * (gap - b * spread))
    done = np.asarray(small & left | is_edge)
    if not bool(done.all()):
        of = np.flatnonzero(~done)
        at = of if isinstance(active, slice) else active[of]
        rising = score[of] > 0.0
        low[at] = np.where(rising, u[of], low[at])
        high[at] = np.where(rising, high[at], u[of])
        inside = _kept_inside(out.log_shape[at], low[at], high[at])
        out.log_shape[at] = np.where(small[of], out.log_shape[at], inside)
    return done


def _kept_inside(wanted: Floats, low: Floats, high: Floats) -> Floats:
    """Return the next log shape: the wanted one, an untried end, or the middle of the bracket."""
    middle = 0.5 * (low + high)
    below = np.where(low < LOG_FLOOR, LOG_FLOOR, middle)
    above = np.where(high > LOG_CAP, LOG_CAP, middle)
    return np.where(wanted <= np.maximum(low, LOG_FLOOR), below,
                    np.where(wanted >= np.minimum(high, LOG_CAP), above, wanted))


def _step(b: Floats, score: Floats, gap: Floats, spread: Floats, third: Floats) -> Floats:
    """Return the step in log shape, at most 1.5; where the score does not fall, 0.7 uphill."""
    slope = gap - b * spread
    with np.errstate(divide="ignore", invalid="ignore"):  # what is not usable is replaced below
        bend = -0.5 * third / spread
        linear = slope + bend * score
        root = np.sqrt(linear * linear - 4.0 * (gap * bend - spread) * score)
        e = 2.0 * score / (root - linear)
        step = np.log1p(e / b)
        usable = (slope < 0.0) & (spread > 0.0) & (1.0 + bend * e > 0.2) & (e > -0.8 * b)
    rest = np.flatnonzero(~usable)
    if rest.size:
        falling = slope[rest] < 0.0
        newton = -score[rest] / np.where(falling, slope[rest], -1.0) / b[rest]
        step[rest] = np.where(falling, newton, 0.7 * np.sign(score[rest]))
    return np.clip(step, -1.5, 1.5)


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
