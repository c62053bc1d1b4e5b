"""Regression of life on known velocities, nothing pooled: to be set against others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.errors import FitError
from etl.life.vibration.data import VibrationData, first_log_age, gather
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.nodes import Nodes
from etl.life.vibration.steps import damped_step
from etl.life.vibration.terms import Terms

Floats = NDArray[np.float64]
LONGEST_STEP = 1.0
STEEPEST = 3.0
"""Log shape beyond which the failures of a construction say nothing but that they are few."""


def plain_fit(
    data: VibrationData, velocity: Floats, *, n_steps: int = 80
) -> tuple[Floats, Floats, float]:
    """Fit by maximum likelihood with velocities known, nothing pooled and no factor of places.

    Parameters
    ----------
    data : VibrationData
        Every construction with failures at different velocities.
    velocity : ndarray, shape (n_places,)
        Log velocity over the reference.
    n_steps : int

    Returns
    -------
    theta, information, log_likelihood
        Log life at the reference, exponent and log shape of every construction, then covariates;
        their information matrix.

    Raises
    ------
    FitError
        The likelihood has no maximum that the steps reach.

    Notes
    -----
    The same likelihood as `etl.life.vibration.fit` with its extras switched off.
    """
    one = replace(data, group=np.zeros_like(data.group))
    terms = Terms(data.n_constructions, 1, data.covariates.shape[1], has_places=False)
    at = velocity[:, None]
    pairs = gather(one, first_log_age(data))
    marginal = Marginal(terms, one, pairs, Nodes(at, np.zeros_like(at), np.zeros_like(at)))
    free = np.delete(np.arange(terms.size), 3 * terms.n_constructions)  # one class: no effect
    theta = np.zeros(terms.size)
    events = max(float(pairs.n_failures.sum()), 0.5)
    theta[:terms.n_constructions] = np.log(
        float((data.count * np.exp(first_log_age(data))).sum()) / events)
    for _ in range(n_steps):
        value, slope = marginal.value_and_gradient(theta)
        slope = slope[free]
        full = marginal.information(theta)[np.ix_(free, free)]
        step = np.zeros(terms.size)
        step[free] = damped_step(full, slope)
        gain = float(step[free] @ slope)
        step *= min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), 1e-300))
        if gain < 1e-16:
            return theta[free], full, value
        while marginal.value(theta + step) < value and np.abs(step).max() > 1e-12:
            step = step / 2.0
        theta = theta + step
        if np.abs(terms.split(theta)[2]).max() > STEEPEST:
            break
    raise FitError("vibration: no maximum found; a construction has too few failures.")
