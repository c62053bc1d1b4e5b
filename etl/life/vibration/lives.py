"""Lives that the regression on vibration implies, and which construction outlasts which."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.draws import VibrationDraws
from etl.life.vibration.nodes import FREQUENCY_SD
from etl.life.vibration.resonance import DAMPING
from etl.life.vibration.terms import Terms

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TENTH = 0.10
WORTH_A_WORD = 0.30
"""Slope of log life on log stiffness: twice the stiffness then stands for a fifth of a life. Below
it, velocities that follow stiffness in no straight line look the same (our choice, by worlds)."""
SETTLED, MOST_STEPS = 1e-6, 40
"""Change of a log age that ends a search, and its longest run (halving alone needs 25)."""
SPACING, REACH = 0.8 * DAMPING, 4.2
"""Between errors of a natural frequency tried, in log frequency; how far, in standard deviations.
Gauss points stand three peaks apart and put up to half of all places on top of one."""


def log_life_at(
    terms: Terms, theta: Floats, construction: Ints, group: Ints, velocity: Floats,
    log_ratio: Floats, covariates: Floats, stiffness: Floats,
) -> Floats:
    """Return log characteristic lives of hoses in given service, for one or many draws.

    Parameters
    ----------
    terms : Terms
    theta : ndarray, shape (..., terms.size)
    construction, group : ndarray of int, shape (n,)
        Group -1: a class without an effect of its own.
    velocity, log_ratio, stiffness : ndarray, shape (n,)
    covariates : ndarray, shape (n, n_covariates)

    Returns
    -------
    ndarray, shape (..., n)
    """
    life, exponent, _, effect, common = terms.split(theta)
    columns = terms.columns(velocity, log_ratio, covariates, stiffness)
    own = np.where(group >= 0, effect[..., np.maximum(group, 0)], 0.0)
    return np.asarray(life[..., construction] + own - exponent[..., construction] * velocity
                      + common @ columns.T)


def population_log_b10(
    draws: VibrationDraws, construction: Ints, group: Ints, velocity: Floats, log_ratio: Floats,
    covariates: Floats, stiffness: Floats,
) -> Floats:
    """Return log B10 over places that differ as the fleet's do, in each draw.

    Parameters
    ----------
    draws : VibrationDraws
    construction, group, velocity, log_ratio, covariates, stiffness
        As in `log_life_at`.

    Returns
    -------
    ndarray, shape (n_draws, n)

    Notes
    -----
    Survival is averaged over the gamma factor in closed form and, where resonance counts, over
    the error of the natural frequency by the trapezium rule, whose points are closer than a peak
    is wide; solved for one tenth by Newton steps kept inside a bracket.
    """
    shape, nu = draws.shape[:, construction], draws.nu[:, None]
    step = np.log(nu * np.expm1(-np.log1p(-TENTH) / nu)) / shape
    found = step + log_life_at(draws.terms, draws.theta, construction, group, velocity,
                               log_ratio, covariates, stiffness)
    near = np.flatnonzero(np.isfinite(log_ratio) & draws.terms.has_resonance)
    if not near.size:
        return np.asarray(found)
    error, weight = frequency_errors()
    mu = np.stack([log_life_at(
        draws.terms, draws.theta, construction[near], group[near], velocity[near],
        log_ratio[near] - x, covariates[near], stiffness[near])
        for x in error], axis=-1)
    found[:, near] = _solved(mu, shape[:, near], nu, weight, step[:, near])
    return np.asarray(found)


def frequency_errors() -> tuple[Floats, Floats]:
    """Return errors of the log natural frequency of a place, and the share of places at each.

    Returns
    -------
    error, weight : ndarray, shape (n_points,)

    Notes
    -----
    The trapezium rule with even steps closes in faster than any power of the step on smooth
    integrands over the whole line (Trefethen & Weideman 2014).
    """
    half = round(REACH * FREQUENCY_SD / SPACING)
    error = SPACING * np.arange(-half, half + 1.0)
    weight = np.exp(-0.5 * (error / FREQUENCY_SD) ** 2)
    return error, np.asarray(weight / weight.sum(), np.float64)


def _solved(mu: Floats, shape: Floats, nu: Floats, weight: Floats, step: Floats) -> Floats:
    """Return the log age at which mean survival over the points has fallen by a tenth."""
    low, high = mu.min(axis=-1) + step, mu.max(axis=-1) + step
    at, wanted = 0.5 * (low + high), np.log(-np.log1p(-TENTH))
    for _ in range(MOST_STEPS):
        power = np.exp(np.clip(shape[..., None] * (at[..., None] - mu), -600.0, 300.0))
        alive = np.exp(-nu[..., None] * np.log1p(power / nu[..., None]))
        mean = alive @ weight
        fall = shape * ((alive * power / (1.0 + power / nu[..., None])) @ weight)
        # The log of the cumulative hazard is nearly straight in log age.
        hazard = -np.log(np.clip(mean, 1e-300, 1.0 - 1e-16))
        off = np.log(hazard) - wanted
        low, high = np.where(off < 0.0, at, low), np.where(off < 0.0, high, at)
        moved = at - off * hazard * mean / np.maximum(fall, 1e-300)
        inside = (moved >= low) & (moved <= high)
        before, at = at, np.where(inside, moved, 0.5 * (low + high))
        if np.abs(at - before).max() < SETTLED:
            break
    return np.asarray(at)


def log_median_here(log_life: Floats, shape: Floats, factor: Floats) -> Floats:
    """Return the log median life of a hose at a place.

    Parameters
    ----------
    log_life : ndarray, shape (...)
        Log characteristic life at the place's velocity.
    shape : ndarray, shape (...)
    factor : ndarray, shape (...)
        Factor of the place on the hazard.
    """
    return np.asarray(log_life + np.log(np.log(2.0) / factor) / shape)


def stands_apart(apart: Floats, confidence: float) -> bool:
    """Tell whether stiffness goes with life between places other than it does within them.

    Parameters
    ----------
    apart : ndarray, shape (n_draws,)
        Slope of log life on log stiffness between places, less that within places.
    confidence : float

    Returns
    -------
    bool
        The range leaves out nought, and the difference is worth a word.
    """
    tail = (1.0 - confidence) / 2.0
    low, middle, high = np.quantile(apart, [tail, 0.5, 1.0 - tail])
    return bool((low > 0.0 or high < 0.0) and abs(middle) >= WORTH_A_WORD)


def outlasting(median: Floats, other: Floats) -> tuple[float, tuple[float, float, float]]:
    """Return the chance that one construction outlasts another at a place, and the ratio of lives.

    Parameters
    ----------
    median, other : ndarray, shape (n_draws,)
        Log median lives in the same joint draws: drawn apart, what both share would not cancel.

    Returns
    -------
    chance, (lower, middle, upper)
        Of the median life of the first against the second; 90 % range of their ratio.
    """
    gap = median - other
    lower, middle, upper = np.exp(np.quantile(gap, [0.05, 0.5, 0.95]))
    return float((gap > 0).mean()), (float(lower), float(middle), float(upper))
