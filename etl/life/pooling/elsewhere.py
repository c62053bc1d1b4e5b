"""What the other strata lead one to expect of a stratum, against what was seen there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from etl.life.curves import evaluate
from etl.life.pooling.data import PoolingData

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
GREATEST_LOG = 75.0
"""Of a number of failures: far above any that could be seen, and kept in single precision."""
STREAM = 71
"""Of the numbers drawn here, so that they move none of the pooled draws."""


@dataclass(frozen=True)
class Elsewhere:
    """Failures seen in each stratum, and draws of what was to be expected without them.

    Attributes
    ----------
    seen : ndarray, shape (n_strata,)
        Those of unknown mechanism shared out.
    expected : ndarray, shape (n_draws, n_strata)
        Failures in the time that the stratum's hoses were watched, by what class, construction and
        mechanism say and the scatter of strata around them.
    """

    seen: Floats
    expected: Singles


class Expecting:
    """Draws what was to be expected, one draw for each draw of the hyperparameters.

    Parameters
    ----------
    data : PoolingData
    seed : int
    """

    def __init__(self, data: PoolingData, seed: int) -> None:
        """Begin numbers of its own."""
        self._data, self._rng = data, np.random.default_rng([seed, STREAM])

    def draw(self, mean: Floats, residual: Floats) -> Floats:
        """Return failures to be expected of each stratum, shape (n_strata,).

        Parameters
        ----------
        mean : ndarray, shape (n_strata, 2)
            What the effects say of log shape and log life.
        residual : ndarray, shape (2, 2)
            Covariance of strata around them.
        """
        data = self._data
        u, m = (mean + self._rng.standard_normal(mean.shape) @ np.linalg.cholesky(residual).T).T
        away = np.exp(u) * (data.curves.centre[data.stratum_cell] - m)
        value = evaluate(data.curves, data.stratum_cell, u)[0] + away
        return np.asarray(np.exp(np.minimum(value, GREATEST_LOG)))


def surprise(seen: Floats, expected: Singles | Floats) -> Floats:
    """Return how easily chance would set what was seen so far from what was to be expected.

    Parameters
    ----------
    seen : ndarray, shape (n,)
        Failures; fractions allowed.
    expected : ndarray, shape (n_draws, n)
        Draws of the number to be expected.

    Returns
    -------
    ndarray, shape (n,), 0..1
        Two-sided, half of the chance of exactly what was seen counted on either side.

    Notes
    -----
    The number is Poisson given a draw. Draws that know the stratum itself a little, as pooled ones
    do, make the test quiet: a small value says more than a large one.

    References
    ----------
    Predictive check of a prior as in Box, G. E. P. (1980), Sampling and Bayes' inference in
    scientific modelling and robustness, J. R. Stat. Soc. A 143, 383-430 (from memory).

    Examples
    --------
    >>> surprise(np.array([0.0, 9.0]), np.full((1, 2), 2.0)).round(4).tolist()
    [0.1353, 0.0003]
    """
    rate = np.asarray(expected, np.float64)
    at_most = special.gammaincc(seen + 1.0, rate).mean(axis=0)
    fewer = np.where(seen > 0.0, special.gammaincc(np.maximum(seen, 1e-9), rate), 0.0).mean(axis=0)
    middle = 0.5 * (at_most + fewer)
    return np.asarray(np.minimum(1.0, 2.0 * np.minimum(middle, 1.0 - middle)))
