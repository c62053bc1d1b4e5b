"""What one evaluation of the likelihood on vibration leaves for its derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Parts:
    """What one evaluation leaves for derivatives.

    Attributes
    ----------
    mu, hazard, slope : ndarray, shape (n_pairs, n_nodes)
        Log characteristic life; summed cumulative hazard without the factor of the place; its
        derivative by log shape.
    shape : ndarray, shape (n_constructions,)
    place_hazard, share : ndarray, shape (n_places, n_nodes)
        Hazards added up by place; posterior share of each point.
    nu : float
    off, error : ndarray, shape (n_places, n_nodes)
        Squared distance of the velocity from the mean of its kind over its variance, with sign
        in `off`'s root; squared errors of the readings over theirs.
    """

    mu: Floats
    hazard: Floats
    slope: Floats
    shape: Floats
    place_hazard: Floats
    share: Floats
    nu: float
    off: Floats
    error: Floats
    place_sd: float
