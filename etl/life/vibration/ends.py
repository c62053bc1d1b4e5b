"""Ends of lives that records leave open: the age within an interval, the reason nobody wrote."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.data import VibrationData, first_log_age

Floats = NDArray[np.float64]

POINTS, WEIGHTS = np.sqrt(3.0) * np.array([-1.0, 0.0, 1.0]), np.array([1.0, 4.0, 1.0]) / 6.0
"""Gauss's three points of a normal law, any textbook."""


def expected_log_age(data: VibrationData, shape: Floats, hazard_scale: Floats) -> Floats:
    """Return log ages with hoses found failed at their expected log age inside the interval.

    Parameters
    ----------
    data : VibrationData
    shape : ndarray, shape (n_lives,)
        Weibull shape of each life.
    hazard_scale : ndarray, shape (n_lives,)
        Cumulative hazard of each life at age t over t**shape.

    Returns
    -------
    ndarray, shape (n_lives,)

    Notes
    -----
    One expectation step: the interval then counts as a failure at that age, which is close while
    the interval is short against the life.
    """
    age = first_log_age(data)
    wide = np.flatnonzero(np.isfinite(data.high) & (data.high > data.low))
    if not wide.size:
        return age
    at = (np.arange(9) + 0.5) / 9.0
    grid = np.log(data.low[wide, None] + at * (data.high - data.low)[wide, None])
    b = shape[wide, None]
    log_density = (b - 1.0) * grid - hazard_scale[wide, None] * np.exp(np.minimum(b * grid, 500.0))
    weight = np.exp(log_density - log_density.max(axis=1, keepdims=True))
    age[wide] = (weight * grid).sum(axis=1) / weight.sum(axis=1)
    return age


def expected_failure(
    log_hazard: Floats, weight: Floats, factor: Floats, concentration: Floats, rival: Floats
) -> Floats:
    """Return how far hoses that came out for no written reason count as failed by vibration.

    Parameters
    ----------
    log_hazard : ndarray, shape (n, n_nodes), 1/day
        Hazard by vibration at the age of the hose, the factor of the place left out, at every
        point of the place.
    weight : ndarray, shape (n, n_nodes)
        Posterior share of the points.
    factor : ndarray, shape (n, n_nodes)
        Expected factor of the place at each point.
    concentration : ndarray, shape (n,)
        Of the gamma law of the factor, the place's failures looked at; infinite for a known one.
    rival : ndarray, shape (n,), 1/day
        How often a hose of that age comes out for anything else.

    Returns
    -------
    ndarray, shape (n,)
        Mean share of vibration in all that could have taken the hose out. The gamma law of the
        factor is taken as lognormal of the same mean and spread.
    """
    spread = np.sqrt(np.log1p(1.0 / concentration))[:, None]
    found = np.zeros(log_hazard.shape[0])
    for point, part in zip(POINTS, WEIGHTS, strict=True):
        moved = log_hazard + np.log(factor) + spread * (point - 0.5 * spread)
        hazard = np.exp(np.clip(moved, -300.0, 300.0))
        found += part * (weight * hazard / (hazard + rival[:, None])).sum(axis=1)
    return found
