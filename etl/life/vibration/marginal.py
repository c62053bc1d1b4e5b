"""The likelihood on vibration of a whole fleet, taken some thousands of pairs at a time."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.data import Pairs, VibrationData
from etl.life.vibration.exposure import exposure_design
from etl.life.vibration.information import information
from etl.life.vibration.likelihood import Block
from etl.life.vibration.nodes import Nodes
from etl.life.vibration.parts import Parts, Seen
from etl.life.vibration.terms import Terms

Floats = NDArray[np.float64]

AT_ONCE = 50_000
"""Pairs times points worked on together: what is at hand then stays near the processor."""


class Marginal:
    """Log-likelihood of the parameters and its derivatives, at fixed points of the places."""

    def __init__(self, terms: Terms, data: VibrationData, pairs: Pairs, nodes: Nodes) -> None:
        """Hold what does not change with the parameters; places without a pair are left out."""
        self.terms, self.data, self.pairs, self.nodes = terms, data, pairs, nodes
        self.first = np.flatnonzero(np.diff(pairs.place, prepend=-1))
        self.place = pairs.place[self.first]
        seen = self._seen()
        self.blocks = [
            Block(terms, pairs.between(pair), seen.between(place, pair))
            for place, pair in self._cuts(nodes.velocity.shape[1])]

    def _cuts(self, n_nodes: int) -> Iterator[tuple[slice, slice]]:
        """Yield runs of places and their pairs."""
        ends = np.append(self.first, self.pairs.size)
        n = max(1, round(self.pairs.size * n_nodes / AT_ONCE))
        at = np.unique(np.searchsorted(ends, np.linspace(0, self.pairs.size, n + 1)))
        for low, high in zip(at[:-1], at[1:], strict=True):
            yield slice(low, high), slice(ends[low], ends[high])

    def _seen(self) -> Seen:
        data, nodes, place = self.data, self.nodes, self.pairs.place
        at = nodes.velocity[self.place]
        n, one, two = (np.bincount(data.reading_place, weights=data.reading**power,
                                   minlength=data.n_places)[self.place][:, None].astype(np.float64)
                       for power in (0, 1, 2))
        velocity = nodes.velocity[place]
        columns = self.terms.columns(
            velocity,
            data.log_frequency_ratio[place, self.pairs.construction][:, None]
            - nodes.frequency[place],
            np.broadcast_to(data.covariates[place][:, None, :],
                            (*velocity.shape, data.covariates.shape[1])),
            np.broadcast_to(data.place_stiffness[place][:, None], velocity.shape))
        return Seen(
            data.group[self.place], at, nodes.log_weight[self.place],
            two - 2.0 * at * one + n * at**2, n, exposure_design(data)[self.place],
            np.ascontiguousarray(np.moveaxis(columns, -1, 0)))

    def recount(self) -> None:
        """Take in failures of the pairs that were counted anew, in place."""
        for block in self.blocks:
            block.recount()

    def thinned(self, step: int) -> Marginal:
        """Return the same over every so many places, to see the rough shape of a large fleet."""
        return Marginal(self.terms, self.data, self.pairs.every(step), self.nodes)

    @property
    def size(self) -> int:
        """Pairs times points."""
        return self.pairs.size * int(self.nodes.velocity.shape[1])

    def evaluate(self, theta: Floats) -> list[Parts]:
        """Return what is found of pairs and places, one entry a block, in their order."""
        return [block.evaluate(theta)[1] for block in self.blocks]

    def value(self, theta: Floats) -> float:
        """Return the log-likelihood, readings with lives.

        Parameters
        ----------
        theta : ndarray, shape (size,)
        """
        return sum(block.evaluate(theta)[0] for block in self.blocks)

    def value_and_gradient(self, theta: Floats) -> tuple[float, Floats]:
        """Return the log-likelihood and its gradient, shape (n_seen,)."""
        total, slope = 0.0, np.zeros(self.terms.n_seen)
        for block in self.blocks:
            value, parts = block.evaluate(theta)
            total += value
            slope += block.gradient(parts)
        return total, slope

    def information(self, theta: Floats, *, is_complete: bool = False) -> Floats:
        """Return the negative matrix of second derivatives, shape (n_seen, n_seen).

        Parameters
        ----------
        theta : ndarray, shape (size,)
        is_complete : bool
            As if the points of the places were known: larger, and positive far from the mode.
        """
        found = np.zeros((self.terms.n_seen, self.terms.n_seen))
        for block in self.blocks:
            found += information(block, block.evaluate(theta)[1], is_complete=is_complete)
        return found
