"""The regression that ties strata together: effects of class, construction and mechanism."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RESIDUAL_PRIOR = np.diag([0.15**2, 0.25**2])
"""Spread of strata around their effects before any data: log shape, log life (our choice)."""
RESIDUAL_WEIGHT = 3.0
LEVEL_PRIOR = np.array([0.15**2, 0.4**2])
"""Spread of the levels of a factor before any data."""
LEVEL_WEIGHT = 2.0
INTERCEPT_VARIANCE = np.array([2.0**2, 10.0**2])
"""So wide that the fleet alone decides where strata lie."""
CENTRE_SHAPE = np.log(2.0)


@dataclass(frozen=True)
class Hyper:
    """Hyperparameters: effects, residual covariance, variance of each factor's levels.

    Attributes
    ----------
    effects : ndarray, shape (n_effects, 2)
    residual : ndarray, shape (2, 2)
    level_variance : ndarray, shape (n_factors, 2)
    """

    effects: Floats
    residual: Floats
    level_variance: Floats


class Levels:
    """Design of the regression: one intercept, and one column a level of each factor.

    Parameters
    ----------
    factors : tuple of ndarray of int, each shape (n_strata,)
    log_life_guess : float
        Log of a typical characteristic life of the whole fleet.
    """

    def __init__(self, factors: tuple[Ints, ...], log_life_guess: float) -> None:
        """Lay out one column for the intercept and one a level."""
        n = factors[0].size
        self.counts = [int(factor.max(initial=-1)) + 1 for factor in factors]
        starts = np.cumsum([1, *self.counts])
        columns = np.column_stack(
            [np.zeros(n, np.int64), *(f + s for f, s in zip(factors, starts, strict=False))]
        )
        rows = np.repeat(np.arange(n), columns.shape[1])
        self.n_effects = int(starts[-1])
        self.matrix = sparse.csr_matrix(
            (np.ones(rows.size), (rows, columns.ravel())), shape=(n, self.n_effects)
        )
        self.gram: Floats = np.asarray((self.matrix.T @ self.matrix).todense())
        self.slices = [
            slice(int(start), int(start) + count)
            for start, count in zip(starts, self.counts, strict=False)
        ]
        self.centre = np.array([CENTRE_SHAPE, log_life_guess])

    def start(self) -> Hyper:
        """Return the hyperparameters before any data."""
        effects = np.zeros((self.n_effects, 2))
        effects[0] = self.centre
        return Hyper(effects, RESIDUAL_PRIOR.copy(), np.tile(LEVEL_PRIOR, (len(self.counts), 1)))

    def mean(self, hyper: Hyper) -> Floats:
        """Return what the effects say of each stratum, shape (n_strata, 2)."""
        return np.asarray(self.matrix @ hyper.effects)

    def precision(self, hyper: Hyper) -> tuple[Floats, Floats]:
        """Return precision and right-hand side of the prior on the effects, parameters first."""
        prior = np.empty((2, self.n_effects))
        prior[:, 0] = 1.0 / INTERCEPT_VARIANCE
        for factor, where in enumerate(self.slices):
            prior[:, where] = 1.0 / hyper.level_variance[factor][:, None]
        pull = np.zeros((2, self.n_effects))
        pull[:, 0] = prior[:, 0] * self.centre
        return prior.ravel(), pull.ravel()

    def effects_given(self, y: Floats, hyper: Hyper) -> tuple[Floats, Floats]:
        """Return mean and Cholesky factor of the precision of the effects, given the strata.

        Parameters
        ----------
        y : ndarray, shape (n_strata, 2)
        hyper : Hyper

        Returns
        -------
        mean : ndarray, shape (2 * n_effects,)
        factor : ndarray, lower triangular
        """
        inverse = np.linalg.inv(hyper.residual)
        prior, pull = self.precision(hyper)
        wanted = np.kron(inverse, self.gram)
        wanted[np.diag_indices_from(wanted)] += prior
        right = np.asarray(self.matrix.T @ (y @ inverse)).T.ravel() + pull
        factor = np.linalg.cholesky(wanted)
        half = linalg.solve_triangular(factor, right, lower=True)
        return np.asarray(linalg.solve_triangular(factor, half, lower=True, trans="T")), factor

    def draw_effects(self, y: Floats, hyper: Hyper, rng: np.random.Generator) -> Floats:
        """Draw the effects given the strata, shape (n_effects, 2)."""
        flat, factor = self.effects_given(y, hyper)
        noise = rng.standard_normal(flat.size)
        step = linalg.solve_triangular(factor, noise, lower=True, trans="T")
        return self.shaped(flat + np.asarray(step))

    def shaped(self, effects: Floats) -> Floats:
        """Return effects as (n_effects, 2)."""
        return effects.reshape(2, self.n_effects).T
