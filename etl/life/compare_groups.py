"""How many times as long does one group of lives last? From joint draws, and of shapes alone.

Many pairs at once: `first` and `second` number the two groups of each pair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.errors import FitError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

@dataclass(frozen=True)
class Ratio:
    """How many times as long the first of each pair lasts, shape (n_pairs,).

    Attributes
    ----------
    middle, lower, upper : ndarray
        Median and bounds of the ratio; NaN where a draw of either life is not finite.
    is_longer_probability : ndarray, strictly within 0..1
        Probability that the first lasts longer, as far as so many draws can tell it.
    """

    middle: Floats
    lower: Floats
    upper: Floats
    is_longer_probability: Floats


def life_ratio(log_first: ArrayLike, log_second: ArrayLike, confidence: float = 0.90) -> Ratio:
    """Compare lives draw by draw.

    Parameters
    ----------
    log_first, log_second : array_like, shape (n_draws, n_pairs)
        Log lives, such as log B10, of both groups in the same joint draws. Groups that lean on
        the same neighbours move together from draw to draw; pairing the draws keeps that.
    confidence : float
        Content of the bounds.

    Returns
    -------
    Ratio

    Notes
    -----
    The probability counts draws with half a draw added to either side, so that finitely many
    draws never claim certainty.

    Examples
    --------
    >>> ratio = life_ratio(np.log([[2.0], [4.0], [6.0]]), np.log([[1.0], [2.0], [8.0]]))
    >>> ratio.middle.round(9).tolist(), ratio.is_longer_probability.tolist()
    ([2.0], [0.625])
    """
    one, two = np.asarray(log_first, np.float64), np.asarray(log_second, np.float64)
    if one.shape != two.shape or one.ndim != 2:
        raise FitError(
            f"life_ratio: both sides must be (n_draws, n_pairs), found {one.shape} and "
            f"{two.shape}. Give the same draws of both groups."
        )
    known = np.isfinite(one).all(axis=0) & np.isfinite(two).all(axis=0)
    gap = np.where(known, one, 0.0) - np.where(known, two, 0.0)
    tail = 0.5 * (1.0 - confidence)
    lower, middle, upper = np.exp(np.quantile(gap, [tail, 0.5, 1.0 - tail], axis=0))
    longer = ((gap > 0.0).sum(axis=0) + 0.5 * (gap == 0.0).sum(axis=0) + 0.5) / (gap.shape[0] + 1)
    return Ratio(*(np.where(known, part, np.nan) for part in (middle, lower, upper, longer)))


def shape_ratio(
    shape: ArrayLike, lower: ArrayLike, upper: ArrayLike, first: ArrayLike, second: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return the shape of the first group over that of the second, with bounds.

    Parameters
    ----------
    shape, lower, upper : array_like, shape (n_groups,)
        Estimates of disjoint sets of lives, each on its own data alone, with bounds; NaN without
        an estimate, 0 or infinity at an open bound.
    first, second : array_like of int, shape (n_pairs,)

    Returns
    -------
    middle, lower, upper : ndarray, shape (n_pairs,)
        Bounds of the content of those given.

    Notes
    -----
    The distances of the bounds from the estimates, in the logarithm, add up as squares, each
    side with the bounds that push the ratio its way; so skew of either survives.

    References
    ----------
    Zou, G. Y. and Donner, A. (2008), Construction of confidence limits about effect measures,
    Statistics in Medicine 27, 1693-1702 (from memory).

    Examples
    --------
    >>> ratio = shape_ratio([2.0, 1.0], [1.0, 1.0], [4.0, 1.0], [0], [1])
    >>> [part.round(9).tolist() for part in ratio]
    [[2.0], [1.0], [4.0]]
    """
    one, two = np.asarray(first, np.intp), np.asarray(second, np.intp)
    with np.errstate(divide="ignore", invalid="ignore"):
        log = [np.log(np.asarray(part, np.float64)) for part in (shape, lower, upper)]
        middle = log[0][one] - log[0][two]
        down = np.hypot(log[0][one] - log[1][one], log[2][two] - log[0][two])
        up = np.hypot(log[2][one] - log[0][one], log[0][two] - log[1][two])
        return np.exp(middle), np.exp(middle - down), np.exp(middle + up)
