"""Bounds of fitted lives: likelihood ratio and normal approximation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import elementwise

from etl.errors import FitError
from etl.life.fit import StrataFit
from etl.life.strata import Strata
from etl.life.surface import PEAK_SHAPE, Slice, Surface, surface_of

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

SEARCH_BELOW, SEARCH_ABOVE = -6.0, 5.0
"""Log shape, from the fitted one, beyond which a bound on the shape counts as open."""
ROOT_TOLERANCE = 1e-10


@dataclass(frozen=True)
class Bounds:
    """Lower and upper bounds: NaN without an estimate, 0 or inf at an open end."""

    lower: Floats
    upper: Floats


@dataclass(frozen=True)
class LifeBounds:
    """Bounds of each stratum.

    Attributes
    ----------
    shape, characteristic_life : Bounds, arrays of shape (n_strata,)
    b_life : Bounds, arrays of shape (n_strata, n_fractions)
    """

    shape: Bounds
    characteristic_life: Bounds
    b_life: Bounds


def likelihood_ratio_bounds(
    strata: Strata, fit: StrataFit, confidence: float = 0.90, fractions: Sequence[float] = (0.10,)
) -> LifeBounds:
    """Bound shape and lives by how far the likelihood falls from its peak.

    Parameters
    ----------
    strata : Strata
        The lives that were fitted.
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.
    fractions : sequence of float
        Fractions failed for which the age is bounded; 0.10 for B10.

    Returns
    -------
    LifeBounds

    Raises
    ------
    FitError
        A confidence or fraction is not between 0 and 1.

    Notes
    -----
    A value belongs to the bounds while the greatest log-likelihood with it held fixed stays
    within half the chi-square quantile (one degree of freedom) of the peak. The age by which a
    fraction has failed is extreme on that contour where the likelihood is level in the shape at
    fixed age; that point is found by root finding along the contour.

    References
    ----------
    Profile likelihood as in Meeker and Escobar (1998), Statistical Methods for Reliability Data
    (from memory; figures are checked in tests/published).
    """
    check_fractions(confidence, *fractions)
    which = np.flatnonzero(fit.has_estimate)
    surface = surface_of(strata, which, fit.shape[which])
    k = np.arange(which.size)
    top = np.full(which.size, np.log(PEAK_SHAPE))
    cut = Slice(surface, k, top)
    level = cut.read(cut.peak())[0] - 0.5 * float(stats.chi2.ppf(confidence, 1))
    ends = [_shape_end(surface, level, top, top + move) for move in (SEARCH_BELOW, SEARCH_ABOVE)]
    n = strata.n_strata
    shape = Bounds(*(_spread(n, which, np.exp(end) * surface.scale) for end in ends))
    span = (np.where(np.isfinite(ends[0]), ends[0], top + SEARCH_BELOW),
            np.where(np.isfinite(ends[1]), ends[1], top + SEARCH_ABOVE))
    lives = []
    for fraction in (-np.expm1(-1.0), *fractions):
        offset = float(np.log(-np.log1p(-fraction)))
        lives.append(Bounds(*(
            _spread(n, which, _life_end(surface, level, span, offset, side))
            for side in (-1.0, 1.0))))
    return LifeBounds(shape, lives[0], _stacked(lives[1:], n))


def normal_bounds(
    fit: StrataFit, confidence: float = 0.90, fractions: Sequence[float] = (0.10,)
) -> LifeBounds:
    """Bound shape and lives by a normal approximation of their logs.

    Parameters
    ----------
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.
    fractions : sequence of float
        Fractions failed for which the age is bounded.

    Returns
    -------
    LifeBounds

    Notes
    -----
    Variances are the inverse of the observed information. With few failures these bounds are too
    tight; they are there for comparison with textbooks.

    Examples
    --------
    >>> from etl.life.fit import fit_strata
    >>> failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
    >>> fit = fit_strata([0] * 20, 0.0, failed + [500.0] * 10, failed + [np.inf] * 10, 1.0, 1)
    >>> bounds = normal_bounds(fit, 0.95)
    >>> bounds.shape.lower.round(3).tolist(), bounds.shape.upper.round(3).tolist()
    ([0.971], [3.049])
    """
    check_fractions(confidence, *fractions)
    reach = float(stats.norm.ppf(0.5 + 0.5 * confidence))
    a, c = fit.information[:, 0, 0], fit.information[:, 0, 1]
    e = fit.information[:, 1, 1]
    det = a * e - c * c
    var_u, var_m, cov = e / det, a / det, -c / det
    u, m = np.log(fit.shape), np.log(fit.characteristic_life)

    def bounds(middle: Floats, variance: Floats) -> Bounds:
        half = reach * np.sqrt(variance)
        with np.errstate(over="ignore"):
            return Bounds(np.exp(middle - half), np.exp(middle + half))

    lives = []
    for fraction in fractions:
        pull = np.log(-np.log1p(-fraction)) / fit.shape
        lives.append(bounds(m + pull, var_m - 2.0 * pull * cov + pull * pull * var_u))
    return LifeBounds(bounds(u, var_u), bounds(m, var_m), _stacked(lives, fit.shape.size))


def _shape_end(surface: Surface, level: Floats, top: Floats, end: Floats) -> Floats:
    """Return the log shape at which the profile falls to the level; -inf or inf if it does not."""
    def excess(u: Floats, k: Floats) -> Floats:
        cut = Slice(surface, k.astype(np.intp), u)
        return cut.read(cut.peak())[0] - level[k.astype(np.intp)]

    k = np.arange(top.size)
    is_open = excess(end, k.astype(np.float64)) >= 0.0
    root = np.where(is_open, np.where(end > top, np.inf, -np.inf), 0.0)
    closed = np.flatnonzero(~is_open)
    root[closed] = _root(excess, top[closed], end[closed], closed)
    return root


def _life_end(
    surface: Surface, level: Floats, span: tuple[Floats, Floats], offset: float, side: float
) -> Floats:
    """Return the extreme age on the contour for a fraction failed; 0 or inf at an open end."""
    def cross(u: Floats, k: Ints) -> tuple[Slice, Floats]:
        cut = Slice(surface, k, u)
        return cut, cut.crossing(cut.peak(), level[k], -side)

    def tilt(u: Floats, k: Floats) -> Floats:
        cut, x = cross(u, k.astype(np.intp))
        point = cut.point(x)
        # along a fixed age, x changes by (x - offset) per unit of log shape
        return point.by_log_shape - point.by_x * offset

    k = np.arange(level.size)
    low, high = span
    inside = (tilt(low, k.astype(np.float64)) > 0.0) & (tilt(high, k.astype(np.float64)) < 0.0)
    found = np.flatnonzero(inside)
    log_life = np.full(level.size, side * np.inf)
    if found.size:
        u = _root(tilt, low[found], high[found], found)
        cut, x = cross(u, found)
        log_life[found] = ((offset - x) / cut.b) / surface.scale[found] + surface.centre[found]
    with np.errstate(over="ignore"):
        return np.asarray(np.exp(log_life))


def _root(
    function: Callable[[Floats, Floats], Floats], one: Floats, two: Floats, k: Ints
) -> Floats:
    """Return the root of each function between two points of opposite sign."""
    if not k.size:
        return np.zeros(0)
    def called(u: Floats, *args: Any) -> Floats:
        return function(u, args[0])

    found = elementwise.find_root(
        called, (np.minimum(one, two), np.maximum(one, two)),
        args=(k.astype(np.float64),), tolerances={
            "xatol": ROOT_TOLERANCE, "xrtol": 0.0, "fatol": 0.0, "frtol": 0.0})
    return np.asarray(found.x, np.float64)


def _spread(n_strata: int, which: Ints, values: Floats) -> Floats:
    """Return values of some strata among all, NaN for the others."""
    result = np.full(n_strata, np.nan)
    result[which] = values
    return result


def _stacked(parts: list[Bounds], n_strata: int) -> Bounds:
    """Return bounds side by side, shape (n_strata, n_parts)."""
    if not parts:
        return Bounds(np.zeros((n_strata, 0)), np.zeros((n_strata, 0)))
    return Bounds(np.stack([part.lower for part in parts], axis=1),
                  np.stack([part.upper for part in parts], axis=1))


def check_fractions(*values: float) -> None:
    """Raise `FitError` unless every value lies between 0 and 1."""
    wrong = [value for value in values if not 0.0 < value < 1.0]
    if wrong:
        raise FitError(
            f"bounds: confidence and fractions must lie between 0 and 1, got {wrong[0]} "
            f"({len(wrong)} of {len(values)}). Write 90 % as 0.90."
        )
