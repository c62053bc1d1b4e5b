"""What the likelihood on vibration starts from, and what one evaluation leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Seen:
    """What is known of some places, at their points.

    Attributes
    ----------
    group : ndarray of int, shape (n_places,)
    velocity, log_weight, squares : ndarray, shape (n_places, n_nodes)
        Log velocity and log weight of each point; squared errors of the readings there, summed.
    n_readings : ndarray, shape (n_places, 1)
    design : ndarray, shape (n_places, n_columns)
        What the mean velocity depends on.
    columns : ndarray, shape (n_common, n_pairs, n_nodes)
        What each common parameter multiplies in the log life.
    """

    group: Ints
    velocity: Floats
    log_weight: Floats
    squares: Floats
    n_readings: Floats
    design: Floats
    columns: Floats

    def between(self, place: slice, pair: slice) -> Seen:
        """Return the same of some places and their pairs, without a copy."""
        return Seen(self.group[place], self.velocity[place], self.log_weight[place],
                    self.squares[place], self.n_readings[place], self.design[place],
                    self.columns[:, pair])


@dataclass(frozen=True)
class Parts:
    """What one evaluation leaves for derivatives.

    Attributes
    ----------
    mu, power : ndarray, shape (n_pairs, n_nodes)
        Log characteristic life; hazard of a unit of exposure.
    zero, one : ndarray, shape (n_pairs,)
        Exposure, and the same times log age.
    shape : ndarray, shape (n_constructions,)
    place_hazard, share : ndarray, shape (n_places, n_nodes)
        Hazards added up by place; posterior share of each point.
    nu : float
    off, error : ndarray, shape (n_places, n_nodes)
        Squared distance of the velocity from the mean of its kind over its variance, with sign
        in `off`'s root; squared errors of the readings over theirs.
    place_sd : float
    """

    mu: Floats
    power: Floats
    zero: Floats
    one: Floats
    shape: Floats
    place_hazard: Floats
    share: Floats
    nu: float
    off: Floats
    error: Floats
    place_sd: float

    @property
    def hazard(self) -> Floats:
        """Summed cumulative hazard of each pair at each node without the factor of the place."""
        return np.asarray(self.zero[:, None] * self.power)

    def slope(self, b: Floats) -> Floats:
        """Return the derivative of `hazard` by log shape, given shapes of shape (n_pairs, 1)."""
        return np.asarray(b * self.power * (self.one[:, None] - self.mu * self.zero[:, None]))
