"""The dearest places: kept while partitions come in, so that the list never grows."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from etl.decide.ranking import WORST

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

LISTED = 200
"""Places of a fleet that are listed."""


@dataclass(frozen=True)
class Worst:
    """Some places, sorted by site and name.

    Attributes
    ----------
    name : ndarray of object, shape (n,)
        Site and name of the place, parted by a unit separator.
    application_class, construction : ndarray of object, shape (n,)
    age, price, seen, expected, chance : ndarray, shape (n,)
        Of the present hose, days; cost of a failure, NaN where unknown; failures seen and
        expected so far; chance of a failure within 90 days.
    failures, cost : ndarray, shape (n, n_draws)
        Expected within twelve months; the cost orders places, with a stand-in where unknown.
    """

    name: NDArray[np.object_]
    application_class: NDArray[np.object_]
    construction: NDArray[np.object_]
    age: Floats
    price: Floats
    seen: Floats
    expected: Floats
    chance: Floats
    failures: Singles
    cost: Singles

    def only(self, rows: NDArray[np.intp]) -> Worst:
        """Return some of the places."""
        return Worst(*(getattr(self, field.name)[rows] for field in fields(self)))

    def beside(self, other: Worst) -> Worst:
        """Return the places of both, sorted."""
        both = Worst(*(np.concatenate([getattr(self, field.name), getattr(other, field.name)])
                       for field in fields(self)))
        return both.only(np.argsort(both.name, kind="stable"))

    def pruned(self, listed: int = LISTED) -> Worst:
        """Return the places that may be listed, or are among the ten dearest in some draw.

        Notes
        -----
        Whoever is left out is behind that many places of this same list, by cost and, where
        equal, by name; so pruning parts first leaves the same list as pruning the whole.
        """
        n = self.name.size
        if n <= WORST:
            return self
        mean = self.cost.mean(axis=1, dtype=np.float64)
        kept = np.zeros(n, np.bool_)
        kept[np.argsort(-mean, kind="stable")[:listed]] = True
        least = np.partition(self.cost, n - WORST, axis=0)[n - WORST]
        near = np.flatnonzero((self.cost >= least).any(axis=1))
        order = np.argsort(-self.cost[near], axis=0, kind="stable")[:WORST]
        kept[near[np.unique(order)]] = True
        return self.only(np.flatnonzero(kept))
