"""Which distribution do the lives of a stratum look like: Weibull, lognormal, exponential?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.life.fit import StrataFit
from etl.life.fixed_shape import life_at_shape
from etl.life.lognormal import fit_lognormal
from etl.life.strata import arrange_strata
from etl.life.weibull import log_likelihood_terms

Floats = NDArray[np.float64]

CLEAR_DIFFERENCE = 2.0
"""Difference of the criterion below which two distributions cannot be told apart."""
NAMES = ("weibull", "lognormal", "exponential")
N_PARAMETERS = (2, 2, 1)


@dataclass(frozen=True)
class Comparison:
    """Corrected Akaike criterion of each distribution, the smaller the better.

    Attributes
    ----------
    aicc_weibull, aicc_lognormal, aicc_exponential : ndarray, shape (n_strata,)
        NaN where there is no estimate, or too few lives for the correction.
    best : list of str or None, length n_strata
        Name of the distribution with the smallest criterion.
    is_clear : ndarray of bool, shape (n_strata,)
        The best is better than the Weibull by more than 2.
    """

    aicc_weibull: Floats
    aicc_lognormal: Floats
    aicc_exponential: Floats
    best: list[str | None]
    is_clear: NDArray[np.bool_]


def compare_distributions(
    stratum: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    n_strata: int, fit: StrataFit,
) -> Comparison:
    """Compare three life distributions in each stratum.

    Parameters
    ----------
    stratum, entry, low, high, count, n_strata
        As in `etl.life.fit.fit_strata`.
    fit : StrataFit
        Their Weibull fit.

    Returns
    -------
    Comparison

    Notes
    -----
    The criterion is ``2 k - 2 log-likelihood + 2 k (k + 1) / (n - k - 1)`` with ``k`` parameters
    and ``n`` lives.
    """
    key = np.asarray(stratum, np.intp)
    entries, lows, highs, counts = (
        np.broadcast_to(np.asarray(column, np.float64), key.shape)
        for column in (entry, low, high, count))
    strata = arrange_strata(key, entries, lows, highs, counts, n_strata)
    n_lives = fit.n_failures + fit.n_intervals + fit.n_suspensions
    rate_life = life_at_shape(strata, 1.0).estimate
    terms = log_likelihood_terms(1.0, np.where(np.isnan(rate_life), 1.0, rate_life)[key],
                                 entries, lows, highs)
    exponential: Floats = np.where(
        np.isnan(rate_life), np.nan, np.bincount(key, terms * counts, n_strata))
    lognormal = fit_lognormal(
        key, entries, lows, highs, counts, n_strata, fit.has_estimate).log_likelihood
    criteria = [
        corrected_akaike(value, k, n_lives)
        for value, k in zip((fit.log_likelihood, lognormal, exponential), N_PARAMETERS,
                            strict=True)]
    table = np.where(np.isnan(criteria), np.inf, np.array(criteria))
    table[:, ~fit.has_estimate] = np.inf
    first = np.argmin(table, axis=0)
    known = np.all(np.isfinite(table), axis=0)
    best = [NAMES[i] if is_known else None for i, is_known in zip(first, known, strict=True)]
    margin = np.where(known, table[0], 0.0) - np.where(known, table.min(axis=0), 0.0)
    return Comparison(criteria[0], criteria[1], criteria[2], best, margin > CLEAR_DIFFERENCE)


def corrected_akaike(value: Floats, k: int, n_lives: Floats) -> Floats:
    """Return the corrected Akaike criterion.

    Parameters
    ----------
    value : ndarray
        Log-likelihood.
    k : int
        Number of parameters.
    n_lives : ndarray

    Returns
    -------
    ndarray
        NaN with too few lives for the correction.
    """
    spare = n_lives - k - 1.0
    safe = np.where(spare > 0.0, spare, 1.0)
    return np.where(spare > 0.0, 2.0 * k - 2.0 * value + 2.0 * k * (k + 1.0) / safe, np.nan)
