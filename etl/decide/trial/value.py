"""What a trial is worth before it begins, in closed form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

Floats = NDArray[np.float64]

RENEWED = 0.85
"""Failures of a place in T months over T / mean life: the first life begins new."""


@dataclass(frozen=True)
class TrialValue:
    """Value of choosing with a trial and without, in the unit of the cost.

    Attributes
    ----------
    with_trial, without : ndarray
        Expected saving over the horizon against leaving everything as it is.
    """

    with_trial: Floats
    without: Floats

    @property
    def score(self) -> Floats:
        """What the trial adds; not positive where it is not worth its cost."""
        return np.asarray(self.with_trial - self.without)


def value_of_trial(
    n_places: ArrayLike, mean_life: ArrayLike, cost: ArrayLike, log_ratio: ArrayLike,
    log_ratio_sd: ArrayLike, shape: ArrayLike, switch_cost: ArrayLike, trial_cost: ArrayLike,
    n_pairs: ArrayLike, months: ArrayLike, horizon: float, within_pair_concentration: float,
) -> TrialValue:
    """Return the expected value of the knowledge that a trial gives.

    Parameters
    ----------
    n_places : array_like
        Like places that the answer holds for.
    mean_life : array_like, months
        Of the present construction there.
    cost : array_like
        Of one failure.
    log_ratio, log_ratio_sd : array_like
        Log of life of the other construction over the present one: mean and standard deviation.
    shape : array_like
        Weibull shape.
    switch_cost : array_like
        Of fitting the other construction at one place.
    trial_cost : array_like
        Of the trial itself.
    n_pairs, months : array_like
    horizon : float, months
        For which the answer counts, the trial included.
    within_pair_concentration : float
        Gamma concentration of what differs between the two places of a pair.

    Returns
    -------
    TrialValue

    Notes
    -----
    Preposterior analysis with a normal log ratio: the mean that the trial will leave is itself
    normal around today's with variance s^4 / (s^2 + v), and the decision taken then is worth the
    positive part of a shifted lognormal, which has a closed form. Value of sample information is
    textbook (from memory); the approximation of v by expected failures is ours.
    """
    n, life, c, mu, s, b, w, k_trial, g, t = np.broadcast_arrays(*(
        np.asarray(item, np.float64) for item in (
            n_places, mean_life, cost, log_ratio, log_ratio_sd, shape, switch_cost, trial_cost,
            n_pairs, months)))
    first = RENEWED * g * t / life
    noise = (1.0 / first + np.exp(mu) / first
             + 2.0 * special.polygamma(1, within_pair_concentration) / g) / b**2
    spread = s**2 / np.sqrt(s**2 + noise)
    ratio = np.exp(-mu + s**2 / 2.0)
    at_stake = n * (horizon - t) * c / life
    with np.errstate(divide="ignore", invalid="ignore"):
        worth_switching = 1.0 - n * w / at_stake
        z = (np.log(worth_switching / ratio) + spread**2 / 2.0) / spread
        gain = worth_switching * special.ndtr(z) - ratio * special.ndtr(z - spread)
    gain = np.where((worth_switching > 0.0) & (at_stake > 0.0), gain, 0.0)
    with_trial = (np.maximum(at_stake, 0.0) * gain + g * t * c / life * (1.0 - ratio) - g * w
                  - k_trial)
    without = np.maximum(0.0, n * horizon * c / life * (1.0 - ratio) - n * w)
    return TrialValue(np.asarray(with_trial), np.asarray(without))
