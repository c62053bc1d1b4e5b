"""Laws of several cells side by side, as the draws of one: small arrays worked on together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import HAZARD_CAP, CellLaw

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]


@dataclass(frozen=True)
class JoinedLaws(CellLaw):
    """Laws of as many mechanisms each; see `CellLaw`.

    Attributes
    ----------
    removals : ndarray, shape (2, n_draws)
        Shape and log characteristic life of being taken out unfailed, in each draw.
    """

    removals: Floats

    @classmethod
    def of(cls, laws: Sequence[CellLaw]) -> JoinedLaws:
        """Join laws, of which all or none know removals."""
        some = laws[0].removal
        return cls(
            np.concatenate([law.shape for law in laws]),
            np.concatenate([law.log_life for law in laws]),
            np.repeat([law.removal or (1.0, 0.0) for law in laws],
                      [law.shape.shape[0] for law in laws], axis=0).T, removal=some)

    def thinned(self, step: int) -> Self:
        """Return the laws with one of so many draws, of which each law has a multiple."""
        return replace(super().thinned(step), removals=self.removals[:, ::step])

    def removal_hazard(self, age: Floats) -> Singles:
        """Return the cumulative hazard of being taken out unfailed, shape (*age.shape, n_draws).

        Where that does not happen, the last axis has length 1.
        """
        if self.removal is None:
            return super().removal_hazard(age)
        shape, log_life = self.removals
        power = shape * (np.log(np.maximum(age, 1e-6))[..., None] - log_life)
        return np.asarray(np.exp(np.minimum(power, HAZARD_CAP)), np.float32)
