"""The joint draws of how the hoses of one cell fail and come out."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

HAZARD_CAP = 80.0
"""exp(-80) is nothing; capping keeps single precision from overflowing."""


@dataclass(frozen=True)
class CellLaw:
    """Joint draws of the competing Weibull laws of one cell.

    Attributes
    ----------
    shape, log_life : ndarray, shape (n_draws, n_mechanisms), log days
    removal : tuple of float, optional
        Shape and log characteristic life of being taken out unfailed, whatever the rate of the
        place; None where that does not happen.
    """

    shape: Singles
    log_life: Singles
    removal: tuple[float, float] | None = field(default=None, kw_only=True)

    def thinned(self, step: int) -> Self:
        """Return the law with one of so many draws."""
        return replace(self, shape=self.shape[::step], log_life=self.log_life[::step])

    def removal_hazard(self, age: Floats) -> Singles:
        """Return the cumulative hazard of being taken out unfailed, shape (*age.shape, 1)."""
        if self.removal is None:
            return np.zeros((*age.shape, 1), np.float32)
        shape, log_life = self.removal
        power = shape * (np.log(np.maximum(age, 1e-6)) - log_life)[..., None]
        return np.exp(np.minimum(power, HAZARD_CAP)).astype(np.float32)

    def cumulative_hazard(self, age: Floats) -> Singles:
        """Return the cumulative hazard of all mechanisms at ages.

        Parameters
        ----------
        age : ndarray, any shape, days
            Must be >= 0.

        Returns
        -------
        ndarray, shape (*age.shape, n_draws)
        """
        log_age = np.log(np.maximum(age, 1e-6)).astype(np.float32)[..., None]
        total = np.zeros((*age.shape, self.shape.shape[0]), np.float32)
        power = np.empty_like(total)  # in place: this loop is most of a forecast's time
        oldest = log_age.max(initial=-np.inf)
        for shape, log_life in zip(
                np.ascontiguousarray(self.shape.T), np.ascontiguousarray(self.log_life.T),
                strict=True):
            np.subtract(log_age, log_life, out=power)
            power *= shape
            if ((oldest - log_life) * shape).max(initial=0.0) > HAZARD_CAP:
                np.minimum(power, np.float32(HAZARD_CAP), out=power)
            total += np.exp(power, out=power)
        return total
