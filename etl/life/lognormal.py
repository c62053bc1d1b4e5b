"""Maximum likelihood of the lognormal distribution, all strata at once: for comparison only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from etl.life.climb import climb

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

LOG_OF_ZERO = -1e4
HALF_LOG_TWO_PI = 0.5 * float(np.log(2.0 * np.pi))
LONGEST_STEP = (0.7, 2.0)


@dataclass(frozen=True)
class LognormalFit:
    """Fits of each stratum, arrays of shape (n_strata,); NaN where none was found.

    Attributes
    ----------
    log_mean, log_deviation : ndarray
        Mean and standard deviation of log age.
    log_likelihood : ndarray
    """

    log_mean: Floats
    log_deviation: Floats
    log_likelihood: Floats


def fit_lognormal(
    stratum: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    n_strata: int, is_wanted: Bools,
) -> LognormalFit:
    """Fit a lognormal distribution to the lives of each wanted stratum.

    Parameters
    ----------
    stratum, entry, low, high, count, n_strata
        As in `etl.life.fit.fit_strata`.
    is_wanted : ndarray of bool, shape (n_strata,)
        Strata to fit; those with a finite Weibull estimate have a lognormal one too, late entries
        apart.

    Returns
    -------
    LognormalFit
    """
    key = np.asarray(stratum, np.intp)
    entries, lows, highs, counts = (
        np.broadcast_to(np.asarray(column, np.float64), key.shape)
        for column in (entry, low, high, count))
    kept = is_wanted[key] & (np.isfinite(highs) | (lows > entries))
    order = np.flatnonzero(kept)
    order = order[np.argsort(key[order], kind="stable")]
    rows = _Rows(key[order], entries[order], lows[order], highs[order], counts[order], n_strata)
    which = np.flatnonzero(np.bincount(rows.key, minlength=n_strata) > 0)
    result = LognormalFit(*(np.full(n_strata, np.nan) for _ in range(3)))
    if not which.size:
        return result
    u, m = rows.start(which)
    u, m, value, is_peak = climb(rows.sums, u, m, which, LONGEST_STEP)
    value = np.where(is_peak, value, np.nan)
    result.log_mean[which] = np.where(is_peak, m, np.nan)
    result.log_deviation[which] = np.where(is_peak, np.exp(u), np.nan)
    result.log_likelihood[which] = value
    return result


class _Rows:
    """Lives sorted by stratum, as logs."""

    def __init__(
        self, key: Ints, entry: Floats, low: Floats, high: Floats, count: Floats, n_strata: int
    ) -> None:
        """Take the logs."""
        self.key, self.count, self.n_strata = key, count, n_strata
        self.is_exact, self.is_held = high == low, np.isinf(high)
        self.is_span = ~self.is_exact & ~self.is_held
        self.is_late = entry > 0.0
        self.low = _logs(np.maximum(low, entry))
        self.high = np.where(self.is_held, 0.0, _logs(np.where(self.is_held, 1.0, high)))
        self.entry = _logs(entry)

    def start(self, which: Ints) -> tuple[Floats, Floats]:
        """Return log deviation and mean of the logs of all ends."""
        x = np.where(self.is_span, _logs(0.5 * (np.exp(self.low) + np.exp(self.high))), self.low)
        n = np.bincount(self.key, self.count, self.n_strata)[which]
        mean = np.bincount(self.key, self.count * x, self.n_strata)[which] / n
        square = np.bincount(self.key, self.count * x * x, self.n_strata)[which] / n
        return 0.5 * np.log(np.maximum(square - mean * mean, 0.01)), mean

    def sums(self, u: Floats, m: Floats, which: Ints) -> tuple[Floats, ...]:
        """Return value, slopes and second derivatives in log deviation and mean."""
        place = np.full(self.n_strata, -1)
        place[which] = np.arange(which.size)
        at = place[self.key]
        rows = np.flatnonzero(at >= 0)
        at = at[rows]
        sigma, mean = np.exp(u)[at], m[at]
        terms = np.zeros((6, rows.size))
        exact, held = self.is_exact[rows], self.is_held[rows]
        span, late = self.is_span[rows], self.is_late[rows]
        z_low = (self.low[rows] - mean) / sigma
        z_high = (self.high[rows] - mean) / sigma
        z_entry = (self.entry[rows] - mean) / sigma
        one = z_low[exact]
        terms[:, exact] += _by_parameters(
            -u[at][exact] - self.low[rows][exact] - HALF_LOG_TWO_PI - 0.5 * one * one,
            ((one, -one, -np.ones(one.size)),), sigma[exact])
        terms[1, exact] -= 1.0
        terms[:, held] += _tail(z_low[held], sigma[held])
        terms[:, late] -= _tail(z_entry[late], sigma[late])
        terms[:, span] += _between(z_low[span], z_high[span], sigma[span])
        counts = self.count[rows]
        return tuple(
            np.bincount(at, term * counts, which.size).astype(np.float64) for term in terms)


def _logs(ages: Floats) -> Floats:
    """Return logs, with a very negative number for age 0."""
    return np.where(ages > 0.0, np.log(np.where(ages > 0.0, ages, 1.0)), LOG_OF_ZERO)


def _tail(z: Floats, sigma: Floats) -> Floats:
    """Return the six terms of ``log(1 - Phi(z))``."""
    value = special.log_ndtr(-z)
    rate = np.exp(np.maximum(-0.5 * z * z - HALF_LOG_TWO_PI - value, -700.0))
    return _by_parameters(value, ((z, -rate, -rate * (rate - z)),), sigma)


def _between(z_low: Floats, z_high: Floats, sigma: Floats) -> Floats:
    """Return the six terms of ``log(Phi(high) - Phi(low))``."""
    flip = z_low > 0.0  # the difference of the smaller tails keeps its digits
    low, high = np.where(flip, -z_high, z_low), np.where(flip, -z_low, z_high)
    top = special.log_ndtr(high)
    value = top + np.log1p(-np.exp(np.minimum(special.log_ndtr(low) - top, -1e-300)))
    value = np.maximum(value, -1e6)

    def density(z: Floats) -> Floats:
        return np.asarray(np.exp(np.clip(-0.5 * z * z - HALF_LOG_TWO_PI - value, -700.0, 300.0)))

    d_high, d_low = density(z_high), density(z_low)
    capped = np.maximum(z_low, -1e3)  # from age 0 the density there is 0
    cross = d_high * d_low
    return _by_parameters(
        value, ((z_high, d_high, -d_high * (z_high + d_high)),
                (capped, -d_low, d_low * (capped - d_low))), sigma, cross)


def _by_parameters(
    value: Floats, ends: tuple[tuple[Floats, Floats, Floats], ...], sigma: Floats,
    cross: Floats | None = None,
) -> Floats:
    """Return value and derivatives in (log deviation, mean) from those in the scaled ends.

    Each end is ``z`` with first and second derivative; ``cross`` is the mixed derivative of two
    ends. By log deviation ``z`` moves with ``-z``, by the mean with ``-1 / sigma``.
    """
    by_u = sum((-z * first for z, first, _ in ends), np.zeros(value.size))
    by_m = sum((-first / sigma for _, first, _ in ends), np.zeros(value.size))
    by_uu = sum((z * first + z * z * second for z, first, second in ends), np.zeros(value.size))
    by_um = sum(((first + z * second) / sigma for z, first, second in ends), np.zeros(value.size))
    by_mm = sum((second / sigma**2 for _, _, second in ends), np.zeros(value.size))
    if cross is not None:
        one, two = ends[0][0], ends[1][0]
        by_uu = by_uu + 2.0 * one * two * cross
        by_um = by_um + (one + two) * cross / sigma
        by_mm = by_mm + 2.0 * cross / sigma**2
    return np.stack([value, by_u, by_m, by_uu, by_um, by_mm])
