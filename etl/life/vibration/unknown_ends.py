"""Hoses that came out for a reason nobody wrote down: drawn anew as the parameters walk.

At the mode each counts as the share of a failure that is expected of it. Kept at that share, what
is not known of their ends would be missing from the spread of the draws.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.data import Pairs, VibrationData
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.nodes import Nodes
from etl.life.vibration.terms import Terms

Floats = NDArray[np.float64]


class UnknownEnds:
    """What took out the hoses of unknown end, given the parameters (Tanner & Wong 1987)."""

    def __init__(self, data: VibrationData, terms: Terms, pairs: Pairs, nodes: Nodes) -> None:
        """Hold the hoses concerned, and the places that they sat at.

        Parameters
        ----------
        data : VibrationData
        terms : Terms
        pairs : Pairs
            Of all these lives; failures of unknown ends counted in any way.
        nodes : Nodes
        """
        key = data.place * data.n_constructions + data.construction
        unknown = np.flatnonzero(data.rival > 0.0)
        own = pairs.place * data.n_constructions + pairs.construction
        log_age = np.empty(key.size)
        log_age[np.argsort(key, kind="stable")] = pairs.log_ends
        known = np.where(data.rival > 0.0, 0.0, data.failure) * data.count
        at = np.searchsorted(own, key)
        self.n_known = np.bincount(at, known, pairs.size)
        self.sum_known = np.bincount(at, known * log_age, pairs.size)
        self.pairs = replace(pairs, n_failures=pairs.n_failures.copy(),
                             sum_log_age=pairs.sum_log_age.copy())
        self.of_pair, self.log_age = at[unknown], log_age[unknown]
        self.log_rival = np.log(data.rival[unknown])
        self.count = np.rint(data.count[unknown]).astype(np.int64)
        self.has_any = bool(unknown.size)
        self._touched = np.isin(pairs.place, data.place[unknown])
        if self.has_any:
            self._number = np.cumsum(self._touched)[self.of_pair] - 1
            self._few = self.pairs.where(self._touched)
            self._marginal = Marginal(terms, data, self._few, nodes)

    def draw(self, theta: Floats, rng: np.random.Generator) -> None:
        """Draw which of the hoses failed by vibration, and count them in `pairs`.

        Parameters
        ----------
        theta : ndarray, shape (size,)
        rng : Generator

        Notes
        -----
        Point and factor of each place are drawn given the ends as they stand, then each end given
        these: by vibration with the share of its hazard in that of all that takes hoses out.
        """
        found = self._marginal.evaluate(theta)
        share, total, mu = (np.concatenate([getattr(parts, name) for parts in found])
                            for name in ("share", "place_hazard", "mu"))
        first, nu = self._marginal.first, found[0].nu
        number = np.repeat(np.arange(first.size), np.diff(np.append(first, self._few.size)))
        n_failures = np.bincount(number, self._few.n_failures, first.size)
        cut = rng.random(first.size)[:, None]
        chosen = np.minimum((share.cumsum(axis=1) < cut).sum(axis=1), share.shape[1] - 1)
        at = np.arange(first.size)
        factor = (np.ones(first.size) if np.isinf(nu)
                  else rng.gamma(nu + n_failures) / (nu + total[at, chosen]))
        pair = self._number
        b = found[0].shape[self._few.construction[pair]]
        log_hazard = np.log(b) + (b - 1.0) * self.log_age - b * mu[pair, chosen[number[pair]]]
        log_hazard += np.log(np.maximum(factor[number[pair]], 1e-300))
        chance = 1.0 / (1.0 + np.exp(np.clip(self.log_rival - log_hazard, -600.0, 600.0)))
        failed = rng.binomial(self.count, chance).astype(np.float64)
        self.pairs.n_failures[:] = self.n_known + np.bincount(
            self.of_pair, failed, self.pairs.size)
        self.pairs.sum_log_age[:] = self.sum_known + np.bincount(
            self.of_pair, failed * self.log_age, self.pairs.size)
        self._few.n_failures[:] = self.pairs.n_failures[self._touched]
        self._few.sum_log_age[:] = self.pairs.sum_log_age[self._touched]
        self._marginal.recount()
