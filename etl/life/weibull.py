"""The two-parameter Weibull distribution: formulas only.

``shape`` has no unit; ``characteristic_life`` is the age by which 63.2 % have failed and shares
the unit of the ages. All functions broadcast.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

Floats = NDArray[np.float64]


def cumulative_hazard(age: ArrayLike, shape: ArrayLike, characteristic_life: ArrayLike) -> Floats:
    """Return the hazard accumulated from new to an age, no unit.

    Parameters
    ----------
    age : array_like of float
        >= 0.
    shape, characteristic_life : array_like of float
        > 0.

    Returns
    -------
    ndarray
        ``(age / characteristic_life) ** shape``.
    """
    ratio = np.asarray(age, np.float64) / np.asarray(characteristic_life, np.float64)
    with np.errstate(over="ignore"):  # no life gets that far: its hazard is infinite
        return np.asarray(ratio ** np.asarray(shape, np.float64))


def survival(age: ArrayLike, shape: ArrayLike, characteristic_life: ArrayLike) -> Floats:
    """Return the probability of outliving an age.

    Parameters
    ----------
    age, shape, characteristic_life : array_like of float
        As in `cumulative_hazard`.

    Returns
    -------
    ndarray, 0..1

    Examples
    --------
    >>> survival(1000.0, 2.0, 1000.0).round(4).item()
    0.3679
    """
    return np.exp(-cumulative_hazard(age, shape, characteristic_life))


def failure_probability(age: ArrayLike, shape: ArrayLike, characteristic_life: ArrayLike) -> Floats:
    """Return the probability of failing by an age; exact where it is tiny.

    Parameters
    ----------
    age, shape, characteristic_life : array_like of float
        As in `cumulative_hazard`.

    Returns
    -------
    ndarray, 0..1
    """
    return -np.expm1(-cumulative_hazard(age, shape, characteristic_life))


def b_life(fraction: ArrayLike, shape: ArrayLike, characteristic_life: ArrayLike) -> Floats:
    """Return the age by which a fraction has failed; B10 is ``fraction = 0.10``.

    Parameters
    ----------
    fraction : array_like of float
        In 0..1.
    shape, characteristic_life : array_like of float
        > 0.

    Returns
    -------
    ndarray, the unit of ``characteristic_life``

    Examples
    --------
    >>> b_life(0.10, 2.0, 1000.0).round(2).item()
    324.59
    """
    exponent = 1.0 / np.asarray(shape, np.float64)
    spent = -np.log1p(-np.asarray(fraction, np.float64))
    return np.asarray(characteristic_life, np.float64) * spent**exponent


def mean_life(shape: ArrayLike, characteristic_life: ArrayLike) -> Floats:
    """Return the mean life, the unit of ``characteristic_life``.

    Parameters
    ----------
    shape, characteristic_life : array_like of float
        > 0.

    Returns
    -------
    ndarray

    Examples
    --------
    >>> mean_life(2.0, 1000.0).round(2).item()
    886.23
    """
    factor = special.gamma(1.0 + 1.0 / np.asarray(shape, np.float64))
    return np.asarray(np.asarray(characteristic_life, np.float64) * factor)


def log_likelihood(
    shape: float, characteristic_life: float, entry: ArrayLike, low: ArrayLike, high: ArrayLike,
    count: ArrayLike = 1.0,
) -> float:
    """Return the log-likelihood of lives, written out term by term.

    Parameters
    ----------
    shape, characteristic_life : float
        > 0.
    entry, low, high : array_like of float, shape (n,)
        Entry age; ``high = low`` failed, ``high = inf`` suspended, otherwise failed in between.
    count : array_like of float, shape (n,) or one number

    Returns
    -------
    float

    Examples
    --------
    >>> round(log_likelihood(1.0, 10.0, [0.0], [10.0], [float("inf")]), 12)
    -1.0
    """
    terms = log_likelihood_terms(shape, characteristic_life, entry, low, high)
    return float(np.sum(np.asarray(count, np.float64) * terms))


def log_likelihood_terms(
    shape: ArrayLike, characteristic_life: ArrayLike, entry: ArrayLike, low: ArrayLike,
    high: ArrayLike,
) -> Floats:
    """Return what each life adds to the log-likelihood.

    Parameters
    ----------
    shape, characteristic_life : array_like of float, shape (n,) or one number
    entry, low, high : array_like of float, shape (n,)
        As in `log_likelihood`.

    Returns
    -------
    ndarray, shape (n,)
    """
    b, life, starts, lows, highs = np.broadcast_arrays(*(
        np.asarray(column, np.float64)
        for column in (shape, characteristic_life, entry, low, high)))
    exact, between = highs == lows, np.isfinite(highs) & (highs > lows)
    until = cumulative_hazard(np.maximum(lows, starts), b, life)
    terms = cumulative_hazard(starts, b, life) - until
    # In logs, because far from a law the hazard overflows just where the density is nothing.
    terms[exact] += np.log(b[exact] / life[exact]) + special.xlogy(
        b[exact] - 1.0, lows[exact] / life[exact])
    spent = cumulative_hazard(highs[between], b[between], life[between]) - until[between]
    terms[between] += np.log(-np.expm1(-spent))
    return terms
