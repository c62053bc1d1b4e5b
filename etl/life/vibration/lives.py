"""Lives that the regression on vibration implies, and which construction outlasts which."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.draws import VibrationDraws
from etl.life.vibration.nodes import FREQUENCY_SD
from etl.life.vibration.terms import Terms

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TENTH = 0.10
WORTH_A_WORD = 0.30
"""Slope of log life on log stiffness: twice the stiffness then stands for a fifth of a life. Below
it, velocities that follow stiffness in no straight line look the same (our choice, by worlds)."""
ERRORS = np.arange(-4.0, 4.125, 0.25)
"""Errors of a natural frequency, in its standard deviations, at which survival is averaged with
equal steps: a peak of resonance is a third of one wide, and Hermite's points step over it."""
HALVINGS = 20
"""Of a span of a few units of log age: leaves less than a thousandth of a day in a year."""


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
    the error of the natural frequency (`ERRORS`); solved for one tenth by bisection.
    """
    shape, nu = draws.shape[:, construction], draws.nu[:, None]
    step = np.log(nu * np.expm1(-np.log1p(-TENTH) / nu)) / shape
    found = step + log_life_at(draws.terms, draws.theta, construction, group, velocity,
                               log_ratio, covariates, stiffness)
    near = np.flatnonzero(np.isfinite(log_ratio) & draws.terms.has_resonance)
    if not near.size:
        return np.asarray(found)
    weight = np.exp(-0.5 * ERRORS**2)
    mu = np.stack([log_life_at(
        draws.terms, draws.theta, construction[near], group[near], velocity[near],
        log_ratio[near] - FREQUENCY_SD * x, covariates[near], stiffness[near])
        for x in ERRORS], axis=-1)
    found[:, near] = _solved(mu, shape[:, near], nu, weight / weight.sum(), step[:, near])
    return np.asarray(found)


def _solved(mu: Floats, shape: Floats, nu: Floats, weight: Floats, step: Floats) -> Floats:
    """Return the log age at which mean survival over the points has fallen by a tenth."""
    low, high = mu.min(axis=-1) + step, mu.max(axis=-1) + step
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        power = np.exp(np.clip(shape[..., None] * (middle[..., None] - mu), -600.0, 300.0))
        alive = np.exp(-nu[..., None] * np.log1p(power / nu[..., None])) @ weight
        is_early = alive > 1.0 - TENTH
        low, high = np.where(is_early, middle, low), np.where(is_early, high, middle)
    return np.asarray(0.5 * (low + high))


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
