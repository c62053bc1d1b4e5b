"""True velocity of each place as something not known: readings with error, or none at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.data import VibrationData

Floats = NDArray[np.float64]

ERROR_SD = 0.30
"""Error of a reading, in log velocity, before the site's own repeats speak (our choice) ..."""
ERROR_WEIGHT = 8.0
"""... worth as many observations."""
PLACE_SD, PLACE_WEIGHT = 0.50, 2.0
"""The same for how much places of one class differ."""
CLASS_SD = 1.0
"""How far the mean log velocity of a class may lie from that of all readings (wide)."""
LEAST_REPEATS = 20
"""Readings beyond the first of their place from which on the site's own error is known."""


@dataclass(frozen=True)
class Exposure:
    """What is believed of the log velocity of each place before its lives are looked at.

    Attributes
    ----------
    effect : ndarray, shape (n_columns,)
        Mean log velocity of each class, and its slope on the stiffness of the hoses used.
    place_sd, error_sd : float
        How much places of one kind differ, and how much a reading errs.
    mean, sd : ndarray, shape (n_places,)
        Given the readings there, and the place's class where there are few or none.
    """

    effect: Floats
    place_sd: float
    error_sd: float
    mean: Floats
    sd: Floats


def n_repeats(data: VibrationData) -> int:
    """Return the readings beyond the first of their place."""
    return int(np.maximum(data.n_readings - 1, 0).sum())


def exposure_design(data: VibrationData) -> Floats:
    """Return what velocity may depend on: class, and how stiff the hoses used at a place are.

    Returns
    -------
    ndarray, shape (n_places, n_groups + 1)

    Notes
    -----
    Without the second, stiff hoses fitted where it shakes would take the blame for the shaking.
    """
    groups = np.eye(data.n_groups)[data.group]
    return np.hstack([groups, data.place_stiffness[:, None]])


def believed(
    data: VibrationData, design: Floats, effect: Floats, place_sd: float, error_sd: float
) -> Exposure:
    """Combine the mean of the kind with the readings of each place.

    Parameters
    ----------
    data : VibrationData
    design : ndarray, shape (n_places, n_columns)
    effect : ndarray, shape (n_columns,)
    place_sd, error_sd : float

    Returns
    -------
    Exposure
    """
    n = data.n_readings
    total = np.bincount(data.reading_place, weights=data.reading, minlength=data.n_places)
    precision = 1.0 / place_sd**2 + n / error_sd**2
    mean = (design @ effect / place_sd**2 + total / error_sd**2) / precision
    return Exposure(effect, place_sd, error_sd, mean, 1.0 / np.sqrt(precision))


def exposure_from(
    data: VibrationData, design: Floats, *, error_sd: float | None = None, n_rounds: int = 40
) -> Exposure:
    """Estimate the exposure model from the readings alone.

    Parameters
    ----------
    data : VibrationData
        At least one reading.
    design : ndarray, shape (n_places, n_columns)
    error_sd : float, optional
        Taken as known when given.
    n_rounds : int

    Returns
    -------
    Exposure

    Notes
    -----
    Expectation and maximisation for a mean by class, with places and readings scattering around
    it normally in log velocity.
    """
    used = data.n_readings > 0
    x, centre = design[used], float(data.reading.mean())
    prior = np.append(np.full(data.n_groups, centre), 0.0)
    found = believed(data, design, prior, PLACE_SD, error_sd or ERROR_SD)
    for _ in range(n_rounds):
        pull = np.eye(x.shape[1]) * (found.place_sd / CLASS_SD) ** 2
        effect = prior + np.linalg.solve(
            x.T @ x + pull, x.T @ (found.mean[used] - x @ prior))
        rest = (found.mean[used] - x @ effect) ** 2 + found.sd[used] ** 2
        place = (rest.sum() + PLACE_WEIGHT * PLACE_SD**2) / (used.sum() + PLACE_WEIGHT)
        at = data.reading_place
        errors = (data.reading - found.mean[at]) ** 2 + found.sd[at] ** 2
        error = (errors.sum() + ERROR_WEIGHT * ERROR_SD**2) / (data.reading.size + ERROR_WEIGHT)
        found = believed(data, design, effect, float(np.sqrt(place)),
                         error_sd or float(np.sqrt(error)))
    return found
