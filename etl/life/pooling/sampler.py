"""The chain that draws strata and hyperparameters jointly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.life.pooling.complete import Completer
from etl.life.pooling.data import PoolingData, value_and_slope
from etl.life.pooling.levels import (
    INTERCEPT_VARIANCE,
    LEVEL_PRIOR,
    LEVEL_WEIGHT,
    RESIDUAL_PRIOR,
    RESIDUAL_WEIGHT,
    Hyper,
    Levels,
)
from etl.life.pooling.shift import LevelShift, State

Floats = NDArray[np.float64]

FILL_EVERY = ((10_000, 8), (2_000, 4), (0, 1))
"""With more unknown failures than so many they are filled in at every so many sweeps only: each
sweep moves the strata little, and the filling would take most of the time."""
PROPOSAL_WIDTH = 1.35
PROPOSAL_FREEDOM = 5.0
WIDEST = 12.0
"""Log shapes beyond exp(+-this) are refused: no life data speak of them."""
STEEPEST = 1e60
"""Slopes are cut here, so that a proposal far out cannot overflow; it is refused anyway."""


class Sampler:
    """State of the chain; `sweep` moves everything once.

    Parameters
    ----------
    data : PoolingData
    completer : Completer
    levels : Levels
    mode : ndarray, shape (n_strata, 2)
        Posterior mode of each stratum; the chain starts there.
    covariance : ndarray, shape (n_strata, 2, 2)
        Its Laplace covariance.
    hyper : Hyper
    seed : int
    """

    def __init__(
        self, data: PoolingData, completer: Completer, levels: Levels, mode: Floats,
        covariance: Floats, hyper: Hyper, seed: int,
    ) -> None:
        """Start at the modes."""
        self._data, self._completer, self._levels = data, completer, levels
        self._rng = np.random.default_rng(seed)
        self._mode = mode
        self._half = np.linalg.cholesky(PROPOSAL_WIDTH * covariance)
        self._half_inverse = np.linalg.inv(self._half)
        known = _semi_definite(np.linalg.inv(covariance) - np.linalg.inv(hyper.residual))
        everywhere = np.zeros(mode.shape[0], np.int64)  # the intercept: one level with all strata
        self._shifts = [
            LevelShift(factor, count, known)
            for factor, count in zip(
                (everywhere, *data.factors), (1, *levels.counts), strict=True
            )
        ]
        self.y = mode.copy()
        self.hyper = hyper
        self._n_unknown = data.interval_cell.size + data.masked_cell.size
        self._fill_every = next(every for many, every in FILL_EVERY if self._n_unknown >= many)
        self._n_sweeps = 0
        self._done = completer.spread(mode[:, 0], mode[:, 1])
        self._now = self._state(self.y)

    def sweep(self) -> None:
        """Fill in the unknowns, then move strata, levels with their strata, hyperparameters."""
        if self._n_unknown and self._n_sweeps % self._fill_every == 0:
            self._done = self._completer.draw(self.y[:, 0], self.y[:, 1], self._rng)
            self._now = self._state(self.y)
        self._n_sweeps += 1
        mean = self._levels.mean(self.hyper)
        self._move_at_mode(mean)
        self._move_from_prior(mean)
        self._move_levels()
        self._draw_hyper()

    def _state(self, y: Floats) -> State:
        """Return log-likelihood and slope of each stratum."""
        u = np.minimum(np.maximum(y[:, 0], -WIDEST), WIDEST)
        value, slope = value_and_slope(self._data, self._done, u, y[:, 1])
        value[u != y[:, 0]] = -np.inf
        np.maximum(slope, -STEEPEST, out=slope)
        return value, np.minimum(slope, STEEPEST, out=slope)

    def _move_at_mode(self, mean: Floats) -> None:
        """Propose around the modes, independent of where the chain stands."""
        n = self.y.shape[0]
        inverse: Floats = np.asarray(np.linalg.inv(self.hyper.residual), np.float64)
        normal = self._rng.standard_normal((n, 2))
        chi = self._rng.chisquare(PROPOSAL_FREEDOM, n) / PROPOSAL_FREEDOM
        step = normal / np.sqrt(chi)[:, None]
        proposal = self._mode + np.einsum("kij,kj->ki", self._half, step)
        then = self._state(proposal)
        gain = (
            then[0] - self._now[0]
            + _log_prior(proposal, mean, inverse) - _log_prior(self.y, mean, inverse)
            + self._log_proposal(self.y) - self._log_proposal(proposal)
        )
        self._accept(proposal, then, gain)

    def _move_from_prior(self, mean: Floats) -> None:
        """Propose from the prior: the likelihood ratio alone decides."""
        half = np.linalg.cholesky(self.hyper.residual)
        proposal = mean + self._rng.standard_normal(self.y.shape) @ half.T
        then = self._state(proposal)
        self._accept(proposal, then, then[0] - self._now[0])

    def _move_levels(self) -> None:
        """Shift the intercept, then each level of each factor, together with their strata."""
        effects = self.hyper.effects.copy()
        effects[0] -= self._levels.centre
        for shift, where, variance in zip(
            self._shifts, (slice(0, 1), *self._levels.slices),
            (INTERCEPT_VARIANCE, *self.hyper.level_variance), strict=True,
        ):
            self.y, effects[where], self._now = shift.move(
                self.y, effects[where], variance, self._now, self._state, self._rng
            )
        effects[0] += self._levels.centre
        self.hyper = replace(self.hyper, effects=effects)

    def _accept(self, proposal: Floats, then: State, gain: Floats) -> None:
        taken = np.flatnonzero(np.log(self._rng.random(gain.size)) < gain)
        for kept, fresh in ((self.y, proposal), *zip(self._now, then, strict=True)):
            kept[taken] = fresh[taken]

    def _log_proposal(self, y: Floats) -> Floats:
        """Return the log density of the t proposal, up to a constant a stratum."""
        u, m = (y - self._mode).T
        half, freedom = self._half_inverse, PROPOSAL_FREEDOM  # lower triangular
        square = (half[:, 0, 0] * u) ** 2 + (half[:, 1, 0] * u + half[:, 1, 1] * m) ** 2
        return np.asarray(-(freedom / 2 + 1) * np.log1p(square / freedom))

    def _draw_hyper(self) -> None:
        """Draw effects, residual covariance and level variances from their conditionals."""
        levels, rng = self._levels, self._rng
        effects = levels.draw_effects(self.y, self.hyper, rng)
        left = self.y - np.asarray(levels.matrix @ effects)
        scatter = left.T @ left + RESIDUAL_WEIGHT * RESIDUAL_PRIOR
        residual = _inverse_wishart(scatter, self.y.shape[0] + RESIDUAL_WEIGHT, rng)
        variance = np.empty_like(self.hyper.level_variance)
        for number, where in enumerate(levels.slices):
            total = (effects[where] ** 2).sum(axis=0) + LEVEL_WEIGHT * LEVEL_PRIOR
            variance[number] = total / rng.chisquare(levels.counts[number] + LEVEL_WEIGHT, 2)
        self.hyper = replace(
            self.hyper, effects=effects, residual=residual, level_variance=variance
        )


def _semi_definite(matrix: Floats) -> Floats:
    """Return symmetric matrices with their negative directions taken out."""
    size, way = np.linalg.eigh(matrix)
    return np.asarray((way * np.maximum(size, 0.0)[:, None, :]) @ way.transpose(0, 2, 1))


def _log_prior(y: Floats, mean: Floats, inverse: Floats) -> Floats:
    """Return the log prior density of each stratum, up to a constant."""
    u, m = (y - mean).T
    cross = 2.0 * inverse[0, 1] * m
    return np.asarray(-0.5 * (u * (inverse[0, 0] * u + cross) + inverse[1, 1] * m * m))


def _inverse_wishart(scatter: Floats, freedom: float, rng: np.random.Generator) -> Floats:
    """Draw a 2 x 2 covariance by Bartlett's decomposition."""
    half = np.linalg.cholesky(np.linalg.inv(scatter))
    lower = np.array([
        [np.sqrt(rng.chisquare(freedom)), 0.0],
        [rng.standard_normal(), np.sqrt(rng.chisquare(freedom - 1.0))],
    ])
    root = half @ lower
    return np.asarray(np.linalg.inv(root @ root.T))
