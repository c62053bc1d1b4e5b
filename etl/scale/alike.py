"""Forecasts of the places of a cell that do not differ, read from a table over age alone.

Where places are alike, all that tells them apart is the age of their hose: a few ages are
forecast, all others lie between them, and of the places of a cell only their shares of those ages
are added up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import CellLaw
from etl.life.joined_laws import JoinedLaws
from etl.life.renewal import N_MONTHS, forecast_months
from etl.life.renewal_hazards import steps_of_each
from etl.life.renewal_table import YOUNG_DAYS, cubic_shares
from etl.scale.table import CHANCE, EVERY, YEAR, is_within

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

OLDEST_DAYS = 20.0 * 365.25
NEARER = 8.0
"""Each node is left out and read from those at twice the distance. At the distance itself a cubic
misses a sixteenth of that; the double is taken."""
AT_ONCE = 6
"""Cells worked on at once: enough that arrays are not small, few enough for the cache."""


@dataclass(frozen=True)
class Nodes:
    """Ages that are forecast, evenly spaced in log(age + 10 days).

    Attributes
    ----------
    n : int
    n_young : int
        Intervals, from the first, in whose middles a table is compared itself: where hoses are
        young, the hazard may bend sharply.
    """

    n: int
    n_young: int

    @property
    def spacing(self) -> float:
        """Return the distance of nodes."""
        return float(np.log(OLDEST_DAYS / YOUNG_DAYS + 1.0)) / (self.n - 1)

    def looked_at(self) -> Floats:
        """Return the ages of the nodes, then of the middles of the young intervals."""
        at = np.append(np.arange(self.n), np.arange(self.n_young) + 0.5)
        return np.asarray(YOUNG_DAYS * np.expm1(at * self.spacing))

    def position(self, age: Floats) -> Floats:
        """Return where ages lie among the nodes, counted from the first."""
        return np.asarray(np.log1p(age / YOUNG_DAYS) / self.spacing)

    def shares(self, at: Floats) -> Floats:
        """Return the share of each node at some positions, shape (len(at), n)."""
        first = np.clip(at.astype(np.int64) - 1, 0, self.n - 4)
        found = np.zeros(at.size * self.n)
        begin = first + np.arange(0, found.size, self.n)
        found[begin[:, None] + np.arange(4)] = cubic_shares(at - first)
        return found.reshape(at.size, self.n)

    @cached_property
    def missed(self) -> Singles:
        """What reading misses at each age looked at, as shares of the figures at all of them."""
        found = np.zeros((self.n + self.n_young, self.n + self.n_young))
        for node in range(1, self.n - 1):
            other = (node + 1) % 2
            first = min(max(node - 3, other), self.n - 8 + (self.n + other) % 2)
            found[node, first:first + 7:2] = cubic_shares(np.array((node - first) / 2.0)) / NEARER
            found[node, node] = -1.0 / NEARER
        found[self.n:, :self.n] = self.shares(np.arange(self.n_young, dtype=np.float64) + 0.5)
        found[self.n:, self.n:] = -np.eye(self.n_young)
        return found.astype(np.float32)


FINENESS = Nodes(14, 3), Nodes(27, 5), Nodes(53, 8)
"""Tried one after the other; the first is worth its making from twice as many places a cell."""
WORTH_FROM = 2 * FINENESS[0].n


@dataclass(frozen=True)
class AlikeTable:
    """Forecasts of a cell whose places are like their peers.

    Attributes
    ----------
    nodes : Nodes
    values : ndarray, shape (25, n_ages, n_draws)
        Figures as of `etl.scale.table.Table`.
    is_near : ndarray of bool, shape (n_ages - 1,)
        Whether what lies between two nodes is near enough.
    """

    nodes: Nodes
    values: Singles
    is_near: NDArray[np.bool_]

    def holds(self, age: Floats, _rate: Singles) -> NDArray[np.bool_]:
        """Return which places lie within the table, and near enough to it; all rates are 1."""
        at = self.nodes.position(age)
        last = self.nodes.n - 1
        return np.asarray(self.is_near[np.minimum(at.astype(np.int64), last - 1)] & (at <= last))

    def read(self, age: Floats, _rate: Singles, weight: Floats) -> tuple[Floats, Singles, Floats]:
        """Add some places to the nodes, shape (n_weights, n_ages); see `etl.scale.table.Table`."""
        share = self.nodes.shares(self.nodes.position(age))
        year = share.astype(np.float32) @ self.values[YEAR]
        return weight @ share, year, share @ self.values[CHANCE].mean(axis=1, dtype=np.float64)

    def months(self, on_nodes: Floats) -> Floats:
        """Return the figures of places added up on the nodes, shape (24, n_weights, n_draws)."""
        return np.asarray(np.matmul(on_nodes.astype(np.float32), self.values[:CHANCE]), np.float64)


def alike_tables(laws: Sequence[CellLaw]) -> list[AlikeTable]:
    """Make the tables of some cells, in their order: the coarsest that is near everywhere.

    Parameters
    ----------
    laws : sequence of CellLaw

    Returns
    -------
    list of AlikeTable
    """
    found: dict[int, AlikeTable] = {}
    sort = [(law.shape.shape, law.removal is None) for law in laws]
    for kind in dict.fromkeys(sort):
        wanted = [at for at in range(len(laws)) if sort[at] == kind]
        for nodes in FINENESS:
            found |= dict(zip(wanted, _in_blocks([laws[at] for at in wanted], nodes), strict=True))
            wanted = [at for at in wanted if not found[at].is_near.all()]
    return [found[at] for at in range(len(laws))]


def _in_blocks(laws: Sequence[CellLaw], nodes: Nodes) -> Iterator[AlikeTable]:
    """Make the tables of laws of one kind, some at a time."""
    for first in range(0, len(laws), AT_ONCE):
        some = laws[first:first + AT_ONCE]
        steps = steps_of_each(JoinedLaws.of(some), len(some))
        made: dict[int, AlikeTable] = {}
        for count in np.unique(steps):
            like = np.flatnonzero(steps == count).tolist()
            joined = JoinedLaws.of([some[at] for at in like])
            made |= dict(zip(like, _tables(joined, len(like), nodes, int(count)), strict=True))
        yield from (made[at] for at in range(len(some)))


def _tables(law: JoinedLaws, n_laws: int, nodes: Nodes, per_month: int) -> Iterator[AlikeTable]:
    """Make the tables of cells whose laws are joined, and see how near they are."""
    made = forecast_months(law, nodes.looked_at(), per_month)
    values = np.concatenate([
        np.moveaxis(made.expected, 2, 0), np.moveaxis(made.month_variance, 2, 0),
        made.chance_90_days[None]])
    for month in range(N_MONTHS + 1, CHANCE):
        values[month] += values[month - 1]
    by_law = values.reshape(*values.shape[:2], n_laws, -1)
    some = np.ascontiguousarray(by_law[..., ::EVERY].transpose(3, 2, 1, 0))
    near = is_within(np.matmul(nodes.missed, some), some)
    at_nodes, young = near[:, :nodes.n], near[:, nodes.n:]
    old = (at_nodes[:, :-1] & at_nodes[:, 1:])[:, nodes.n_young:]
    is_near = np.concatenate([young, old], axis=1)
    for at in range(n_laws):
        yield AlikeTable(nodes, np.ascontiguousarray(by_law[:, :nodes.n, at]), is_near[at])
