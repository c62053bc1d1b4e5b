"""Were forecasts right: scores of whole distributions, of ranges and of chances."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.count_forecasts import CountForecasts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

LEVELS = (0.05, 0.25, 0.50, 0.75, 0.95)
"""Points of a forecast whose pinball loss is averaged: median and ends of the 50 and 90 % range."""


def randomised_pit(forecasts: CountForecasts, observed: Ints, uniform: Floats) -> Floats:
    """Return where each outcome fell in its forecast, from 0 to 1; even if forecasts are right.

    Parameters
    ----------
    forecasts : CountForecasts
    observed : ndarray of int, shape (n,)
    uniform : ndarray, shape (n,)
        Numbers between 0 and 1, drawn once for each forecast: a count takes a step of the
        distribution, and the place within the step is drawn.

    Returns
    -------
    ndarray, shape (n,)

    References
    ----------
    Czado, C., Gneiting, T. and Held, L. (2009), Predictive model assessment for count data,
    Biometrics 65, 1254-1261 (randomised probability integral transform; from memory).
    """
    low = forecasts.at_most(observed - 1)
    return low + uniform * (forecasts.at_most(observed) - low)


def is_covered(pit: Floats, content: float) -> Flags:
    """Tell which outcomes fell within the central range of their forecast.

    Parameters
    ----------
    pit : ndarray, shape (n,)
        From `randomised_pit`.
    content : float
        Content of the range, such as 0.90.

    Returns
    -------
    ndarray of bool, shape (n,)

    Notes
    -----
    A printed range of whole numbers holds more than its stated share, up to all of it for small
    counts, so that calibrated and too wide forecasts look the same in it. In the randomised
    transform the share of a right forecast is exactly the stated one.
    """
    tail = (1.0 - content) / 2.0
    return np.asarray((pit > tail) & (pit < 1.0 - tail))


def count_crps(forecasts: CountForecasts, observed: Ints) -> Floats:
    """Return the continuous ranked probability score of forecasts of counts; less is better.

    Parameters
    ----------
    forecasts : CountForecasts
    observed : ndarray of int, shape (n,)

    Returns
    -------
    ndarray, shape (n,), in counts
        The sum over all k of (F(k) - 1{k >= observed}) ** 2.

    References
    ----------
    Gneiting, T. and Raftery, A. E. (2007), Strictly proper scoring rules, prediction, and
    estimation, JASA 102, 359-378, section 4.2 (from memory).
    """
    size = forecasts.size
    count = np.arange(forecasts.below.size) - np.repeat(
        forecasts.start[:-1] - forecasts.first, size)
    gap = (forecasts.below - (count >= np.repeat(observed, size))) ** 2
    total = np.r_[0.0, np.cumsum(gap)]
    kept = total[forecasts.start[1:]] - total[forecasts.start[:-1]]
    # Outside the kept counts the forecast is 0 or 1: each count between them and the outcome
    # adds one.
    outside = np.maximum(forecasts.first - observed, 0) + np.maximum(
        observed - (forecasts.first + size), 0)
    return np.asarray(kept + outside)


def pinball_loss(quantile: Floats | Ints, observed: Ints, level: float) -> Floats:
    """Return the pinball loss of stated quantiles; less is better.

    Parameters
    ----------
    quantile, observed : ndarray, shape (n,)
    level : float
        Probability that the quantile is to be kept to.

    Returns
    -------
    ndarray, shape (n,), in counts

    Examples
    --------
    >>> import numpy as np
    >>> pinball_loss(np.array([4.0, 4.0]), np.array([2, 6]), 0.95).round(2)
    array([0.1, 1.9])
    """
    gap = observed - quantile
    return np.asarray(np.maximum(level * gap, (level - 1.0) * gap), np.float64)


def mean_pinball(forecasts: CountForecasts, observed: Ints) -> Floats:
    """Return the pinball loss averaged over the points of `LEVELS`, shape (n,), in counts."""
    losses = [pinball_loss(forecasts.quantile(level), observed, level) for level in LEVELS]
    return np.asarray(np.mean(losses, axis=0))


def brier_score(chance: Floats, happened: Flags) -> Floats:
    """Return the squared distance of stated chances from what happened; less is better.

    Parameters
    ----------
    chance : ndarray, shape (n,)
    happened : ndarray of bool, shape (n,)

    Returns
    -------
    ndarray, shape (n,)

    References
    ----------
    Brier, G. W. (1950), Verification of forecasts expressed in terms of probability, Monthly
    Weather Review 78, 1-3 (from memory).
    """
    return np.asarray((chance - happened) ** 2)


def windows_apart(n_origins: int, horizon_months: int) -> int:
    """Return how many windows of monthly forecasts do not overlap each other.

    Examples
    --------
    >>> windows_apart(24, 1), windows_apart(13, 12), windows_apart(12, 12), windows_apart(0, 3)
    (24, 2, 1, 0)
    """
    return 1 + (n_origins - 1) // horizon_months if n_origins else 0


def ratio_bounds(
    above: Floats, below: Floats, *, block: int, confidence: float, seed: int,
    n_repeats: int = 999,
) -> tuple[float, float]:
    """Return the range of a ratio of two sums over months, or over groups of places.

    Parameters
    ----------
    above, below : ndarray, shape (n_units,)
        What each month, or each group, adds to numerator and denominator.
    block : int
        Neighbouring months drawn together, at least as long as the windows overlap; 1 for groups.
    confidence : float
    seed, n_repeats : int

    Returns
    -------
    lower, upper : float
        NaN when fewer than half of the repeats give a ratio.

    Notes
    -----
    Circular block bootstrap: whole runs of months are drawn with replacement, because the windows
    of neighbouring forecasts share outcomes and their errors. Percentiles of the repeats.

    References
    ----------
    Politis, D. N. and Romano, J. P. (1992), A circular block-resampling procedure for stationary
    data, in Exploring the Limits of Bootstrap, Wiley (from memory).
    """
    n = above.size
    if n == 0:
        return np.nan, np.nan
    rng = np.random.default_rng(seed)
    length = max(1, min(block, n))
    begins = rng.integers(0, n, size=(n_repeats, -(-n // length)))
    drawn = (begins[..., None] + np.arange(length)) % n
    drawn = drawn.reshape(n_repeats, -1)[:, :n]
    top, bottom = above[drawn].sum(axis=1), below[drawn].sum(axis=1)
    known = bottom > 0
    if known.sum() < n_repeats / 2:
        return np.nan, np.nan
    tail = (1.0 - confidence) / 2.0
    lower, upper = np.quantile(top[known] / bottom[known], [tail, 1.0 - tail])
    return float(lower), float(upper)
