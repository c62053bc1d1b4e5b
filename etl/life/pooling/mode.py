"""Where the strata and their hyperparameters most likely lie: the start of the sampler."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.life.pooling.complete import Completer
from etl.life.pooling.data import Completed, PoolingData, hill
from etl.life.pooling.levels import (
    LEVEL_PRIOR,
    LEVEL_WEIGHT,
    RESIDUAL_PRIOR,
    RESIDUAL_WEIGHT,
    Hyper,
    Levels,
)

Floats = NDArray[np.float64]

MAX_ROUNDS = 40
CLOSE_ENOUGH = 5e-3
"""Change of the hyperparameters at which the rounds end; the sampler does the rest."""
LONGEST_STEP = np.array([0.7, 2.0])


def newton_step(
    data: PoolingData, done: Completed, y: Floats, mean: Floats, residual: Floats
) -> tuple[Floats, Floats]:
    """Take one damped Newton step of every stratum towards its posterior mode.

    Parameters
    ----------
    data, done
        As in `value_and_slope`.
    y : ndarray, shape (n_strata, 2)
    mean : ndarray, shape (n_strata, 2)
        Prior means.
    residual : ndarray, shape (2, 2)
        Prior covariance.

    Returns
    -------
    y : ndarray, shape (n_strata, 2)
    covariance : ndarray, shape (n_strata, 2, 2)
        Inverse of the negative Hessian where the step was taken.
    """
    inverse = np.linalg.inv(residual)
    slope, curvature = hill(data, done, y[:, 0], y[:, 1])
    slope = slope - (y - mean) @ inverse
    bend = inverse - curvature
    a, b, c = bend[:, 0, 0], bend[:, 0, 1], bend[:, 1, 1]
    bad = (a <= 0) | (a * c - b * b <= 1e-12 * np.abs(a * c))
    if np.any(bad):
        size = np.abs(b[bad])
        bend[bad, 0, 0] = np.abs(a[bad]) + size + 0.1 * (1.0 + np.abs(a[bad]))
        bend[bad, 1, 1] = np.abs(c[bad]) + size + 0.1 * (1.0 + np.abs(c[bad]))
    covariance: Floats = np.asarray(np.linalg.inv(bend), np.float64)
    step = np.einsum("kij,kj->ki", covariance, slope)
    return y + np.clip(step, -LONGEST_STEP, LONGEST_STEP), covariance


def find_mode(
    data: PoolingData, completer: Completer, levels: Levels
) -> tuple[Floats, Floats, Hyper]:
    """Find posterior modes and hyperparameters by Laplace-EM.

    Parameters
    ----------
    data : PoolingData
    completer : Completer
    levels : Levels

    Returns
    -------
    y : ndarray, shape (n_strata, 2)
    covariance : ndarray, shape (n_strata, 2, 2)
    hyper : Hyper

    Notes
    -----
    Each round: share out unknown mechanisms, two Newton steps a stratum, regression on the
    effects, then the residual covariance with the strata's own uncertainty added, and the
    variance of each factor's levels with that of its effects (EM, textbook; Laplace
    approximation of the E-step).
    """
    hyper = levels.start()
    y = levels.mean(hyper)
    for _ in range(MAX_ROUNDS):
        mean = levels.mean(hyper)
        done = completer.spread(y[:, 0], y[:, 1])
        for _ in range(2):
            y, covariance = newton_step(data, done, y, mean, hyper.residual)
        fresh = _update(y, covariance, levels, hyper)
        change = max(
            float(np.abs(np.log(fresh.level_variance / hyper.level_variance)).max()),
            float(np.abs(fresh.residual - hyper.residual).max() / hyper.residual.max()),
        )
        hyper = fresh
        if change < CLOSE_ENOUGH:
            break
    mean = levels.mean(hyper)
    for _ in range(6):
        y, covariance = newton_step(data, done, y, mean, hyper.residual)
    return y, covariance, hyper


def _update(y: Floats, covariance: Floats, levels: Levels, hyper: Hyper) -> Hyper:
    """Return the hyperparameters that fit the strata as they stand."""
    flat, factor = levels.effects_given(y, hyper)
    effects = levels.shaped(flat)
    half = np.linalg.inv(factor)
    own = levels.shaped((half**2).sum(axis=0))  # variances of the effects
    left = y - np.asarray(levels.matrix @ effects)
    residual = left.T @ left + covariance.sum(axis=0) + RESIDUAL_WEIGHT * RESIDUAL_PRIOR
    variance = np.empty_like(hyper.level_variance)
    for number, where in enumerate(levels.slices):
        total = (effects[where] ** 2 + own[where]).sum(axis=0) + LEVEL_WEIGHT * LEVEL_PRIOR
        variance[number] = total / (levels.counts[number] + LEVEL_WEIGHT)
    return replace(
        hyper, effects=effects, residual=residual / (y.shape[0] + RESIDUAL_WEIGHT),
        level_variance=variance,
    )
