"""Characteristic life where the shape is taken from elsewhere, no failures included."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from etl.errors import FitError
from etl.life.bounds import check_fractions
from etl.life.exposure import Exposure
from etl.life.strata import Strata
from etl.life.surface import PEAK_SHAPE, Slice, surface_of

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class LifeAtShape:
    """Characteristic life of each stratum at a given shape, and its bounds, shape (n_strata,).

    Without failures the estimate is NaN, ``lower`` the zero-failure bound and ``upper`` infinite.
    """

    estimate: Floats
    lower: Floats
    upper: Floats


def life_at_shape(strata: Strata, shape: ArrayLike, confidence: float = 0.90) -> LifeAtShape:
    """Estimate the characteristic life with the shape taken from elsewhere.

    Parameters
    ----------
    strata : Strata
    shape : array_like of float, shape (n_strata,) or one number
        > 0.
    confidence : float
        Content of the two-sided bounds; each bound alone holds with (1 + confidence) / 2.

    Returns
    -------
    LifeAtShape
        NaN throughout where no life was observed.

    Raises
    ------
    FitError
        A shape is not positive, or the confidence not between 0 and 1.

    Notes
    -----
    Lives to the power of the shape are exponential, so the bounds are those of a constant rate:
    chi-square with twice the failures (plus two for the lower bound) over the summed powers.
    Without failures the lower bound is ``(sum / -log(1 - content)) ** (1 / shape)``. With
    interval lives the likelihood ratio is used instead.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.5.1 (bound without failures at
    shape 1).
    """
    check_fractions(confidence)
    b = np.broadcast_to(np.asarray(shape, np.float64), (strata.n_strata,))
    if not bool(np.all(b > 0.0)):
        raise FitError(f"life_at_shape: shape must be > 0, got {b.min()}. Give a positive shape.")
    tail = 0.5 * (1.0 - confidence)
    runs = strata.exposure_runs
    rows = Exposure(strata.exposure, strata.exposure_weight, runs)
    total = np.full(strata.n_strata, np.nan)
    total[runs.keys] = rows.sums(b[runs.keys], 0)[0]
    r = strata.n_failures
    has_any = r > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):  # NaN and inf are the stated outcomes
        estimate = np.where(has_any, total / r, np.nan)
        lower = 2.0 * total / stats.chi2.ppf(1.0 - tail, 2.0 * r + 2.0)
        least = stats.chi2.ppf(tail, np.where(has_any, 2.0 * r, 1.0))
        upper = np.where(has_any, 2.0 * total / least, np.inf)
        upper[np.isnan(total)] = np.nan
        lives = [np.exp(np.log(value) / b + strata.centre) for value in (estimate, lower, upper)]
    which = np.flatnonzero(strata.n_intervals > 0.0)
    if which.size:
        for life, value in zip(lives, _interval_life(strata, which, b[which], confidence),
                               strict=True):
            life[which] = value
    return LifeAtShape(*lives)


def _interval_life(
    strata: Strata, which: Ints, shape: Floats, confidence: float
) -> tuple[Floats, Floats, Floats]:
    """Return estimate and likelihood-ratio bounds at a given shape, with interval lives."""
    surface = surface_of(strata, which, shape)
    u = np.full(which.size, np.log(PEAK_SHAPE))
    cut = Slice(surface, np.arange(which.size), u)
    peak = cut.peak()
    level = cut.read(peak)[0] - 0.5 * float(stats.chi2.ppf(confidence, 1))
    has_peak = np.isfinite(cut.log_s0)  # without exposure the likelihood rises for ever
    ends = (peak, cut.crossing(peak, level, 1.0), cut.crossing(peak, level, -1.0))
    estimate, lower, upper = (np.exp(-x / cut.b / surface.scale + surface.centre) for x in ends)
    return (np.where(has_peak, estimate, np.nan), np.where(has_peak, lower, 0.0), upper)
