"""Partial pooling: joint draws of shape and characteristic life for every stratum.

A stratum with many failures is left alone; one with few, or none, leans on the strata that share
its application class, construction or mechanism, as far as such strata have proved alike. The
joint draws are the common currency of bounds, ranks, forecasts and decisions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.pooling.complete import Completer
from etl.life.pooling.data import PoolingData
from etl.life.pooling.elsewhere import Elsewhere, Expecting
from etl.life.pooling.levels import RESIDUAL_PRIOR, Levels
from etl.life.pooling.mode import find_mode
from etl.life.pooling.sampler import Sampler

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

BURN_IN, BURN_IN_DRAWS = 100, 20
"""Sweeps, or the sweeps of so many draws if more, thrown away at the start."""
MOVES_A_DRAW = 4_000
THIN_LEAST, THIN_MOST = 2, 15
"""Sweeps between two draws kept: as many as move this many strata. Small fleets mix worse, since
each stratum weighs more in the hyperparameters, and their sweeps are cheap."""


@dataclass(frozen=True)
class PooledDraws:
    """Joint posterior draws of all strata.

    Attributes
    ----------
    log_shape, log_life : ndarray, shape (n_draws, n_strata)
        Natural logs; life in the unit of the ages.
    own_data_share : ndarray, shape (n_strata,), 0..1
        How much of the answer is the stratum's own data; 0 = all borrowed.
    effective_size : ndarray, shape (n_strata,)
        Independent draws that the draws of log life are worth.
    residual : ndarray, shape (2, 2)
        Mean covariance of strata around their class, construction and mechanism.
    elsewhere : Elsewhere or None
        What the others lead one to expect of each stratum, against what was seen there.
    """

    log_shape: Singles
    log_life: Singles
    own_data_share: Floats
    effective_size: Floats
    residual: Floats
    elsewhere: Elsewhere | None = None


def pool_strata(data: PoolingData, *, n_draws: int = 200, seed: int) -> PooledDraws:
    """Draw shape and characteristic life of all strata jointly.

    Parameters
    ----------
    data : PoolingData
    n_draws : int
    seed : int
        Same data and seed: the same draws to the bit.

    Returns
    -------
    PooledDraws

    Notes
    -----
    (log shape, log life) of a stratum is normal around the sum of an intercept and the effects of
    its class, construction and mechanism. Each sweep proposes for every stratum from a t
    distribution at its posterior mode and from its present prior (the latter reaches the long
    tail of strata without failures), shifts each level of a factor together with its strata, then
    draws effects, residual covariance and level variances from their conditionals, and fills in
    unknown mechanisms and the ages of failures between two looks. Gibbs and Metropolis steps
    are textbook; the model's scales are our choice (`pooling_levels`).
    """
    if data.n_strata == 0:
        empty = np.zeros((n_draws, 0), np.float32)
        return PooledDraws(empty, empty, np.zeros(0), np.zeros(0), RESIDUAL_PRIOR,
                           Elsewhere(np.zeros(0), empty))
    levels = Levels(data.factors, _typical_log_life(data))
    completer = Completer(data)
    y, covariance, hyper = find_mode(data, completer, levels)
    seen = completer.spread(y[:, 0], y[:, 1]).n_failures
    own = 1.0 - 0.5 * np.einsum("ij,kji->k", np.linalg.inv(hyper.residual), covariance)
    sampler = Sampler(data, completer, levels, y, covariance, hyper, seed)
    log_shape = np.empty((n_draws, data.n_strata), np.float32)
    log_life, expected = np.empty_like(log_shape), np.empty_like(log_shape)
    expecting = Expecting(data, seed)
    residual = np.zeros((2, 2))
    thin = min(max(MOVES_A_DRAW // data.n_strata, THIN_LEAST), THIN_MOST)
    for _ in range(max(BURN_IN, BURN_IN_DRAWS * thin)):
        sampler.sweep()
    for draw in range(n_draws):
        for _ in range(thin):
            sampler.sweep()
        log_shape[draw], log_life[draw] = sampler.y.T
        residual += sampler.hyper.residual / n_draws
        expected[draw] = expecting.draw(levels.mean(sampler.hyper), sampler.hyper.residual)
    return PooledDraws(
        log_shape, log_life, np.clip(own, 0.0, 1.0), effective_size(log_life), residual,
        Elsewhere(seen, expected),
    )


def _typical_log_life(data: PoolingData) -> float:
    """Return the log age by which the fleet would have lost 63 % at a constant hazard."""
    ages, failures = 0.0, 0.0
    curves = data.curves
    at = int(np.argmin(np.abs(curves.log_shape_nodes)))  # shape 1: the sum is time in service
    ages = float((curves.s0[:, at] * np.exp(curves.centre)).sum())
    failures = float(data.n_exact.sum() + data.masked_cell.size + data.interval_cell.size)
    return float(np.log(max(ages, 1e-300) / max(failures, 0.5)))


def effective_size(draws: Singles) -> Floats:
    """Return how many independent draws each column is worth.

    Parameters
    ----------
    draws : ndarray, shape (n_draws, n)

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    n_draws / (1 + 2 sum of autocorrelations), summed in pairs until a pair is negative.

    References
    ----------
    Geyer, C. J. (1992), Practical Markov chain Monte Carlo, Statistical Science 7, 473-483
    (initial positive sequence; from memory).
    """
    n = draws.shape[0]
    centred = draws.astype(np.float64) - draws.mean(axis=0, dtype=np.float64)
    variance = (centred**2).mean(axis=0)
    variance[variance == 0.0] = 1.0
    total = np.full(draws.shape[1], -1.0)
    going = np.ones(draws.shape[1], bool)
    for lag in range(0, n // 2, 2):
        pair = sum(
            (centred[: n - k] * centred[k:]).sum(axis=0) / n / variance for k in (lag, lag + 1)
        )
        going &= pair > 0
        total += np.where(going, 2.0 * pair, 0.0)
        if not going.any():
            break
    return np.asarray(n / np.maximum(total, 1e-9)).clip(max=float(n))
