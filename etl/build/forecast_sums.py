"""Forecasts of places added up by line, site, class and part, draw by draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from etl.life.renewal import N_MONTHS, PlaceForecast, Singles

Floats = NDArray[np.float64]
Reals = NDArray[np.float32] | NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Counts:
    """Counts of changes of groups of places, per draw: within 1 .. 12 months.

    Attributes
    ----------
    names : tuple of str
    mean, variance : ndarray, shape (n_groups, n_draws, 12)
    """

    names: tuple[str, ...]
    mean: Floats
    variance: Floats


@dataclass(frozen=True)
class Moments:
    """Counts of failures of groups of places and what they cost, per draw: within 1 .. 12 months.

    Attributes
    ----------
    names : tuple of str
    mean : ndarray, shape (n_groups, n_draws, 12)
    variance : ndarray, shape (n_groups, n_draws, 12)
        Running sums of the variances of single months, which is not that of all months together:
        a hose that failed in one month hardly fails in the next.
    cost_mean : ndarray, shape (n_groups, n_draws, 12)
    cost_variance : ndarray, shape (n_groups, n_draws, 12) or (n_groups, 1, 12)
        As ``variance``; of each draw, or their mean.
    """

    names: tuple[str, ...]
    mean: Reals
    variance: Reals
    cost_mean: Reals
    cost_variance: Reals


FEW_GROUPS = 500
"""Up to so many, sums are made in double precision: each is of many places."""


class ScopeSums:
    """Adds up failures and their cost in scopes that lie across one another.

    Parameters
    ----------
    keys : dict of str to Series
        Name of the group of each place, by scope; empty where it has none.
    n_draws : int
    """

    def __init__(self, keys: dict[str, pd.Series[str]], n_draws: int) -> None:
        """Begin with nothing."""
        found = {scope: pd.factorize(values, sort=True) for scope, values in keys.items()}
        self._code = {scope: np.asarray(code, np.int64) for scope, (code, _) in found.items()}
        self._names = {scope: tuple(str(name) for name in names)
                       for scope, (_, names) in found.items()}
        self._n_draws = n_draws
        self._parts = {scope: self._zeros(len(names)) for scope, names in self._names.items()}

    def _zeros(self, n_groups: int) -> tuple[Reals, Reals, Reals, Reals]:
        """Return sums of mean, variance, cost, and variance of the cost as mean of the draws."""
        kind = np.float64 if n_groups <= FEW_GROUPS else np.float32
        per_draw = [np.zeros((n_groups, self._n_draws * N_MONTHS), kind) for _ in range(3)]
        return per_draw[0], per_draw[1], per_draw[2], np.zeros((n_groups, N_MONTHS))

    def add(self, block: PlaceForecast, price: Floats) -> None:
        """Add a block of places; a price that is NaN counts as nothing."""
        cost = np.nan_to_num(price[block.places]).astype(np.float32)
        mean, spread = flat(block.expected), flat(block.month_variance)
        typical = block.month_variance.mean(axis=1)
        terms = ((None, mean), (None, spread), (cost, mean), (cost**2, typical))
        ones = np.ones(cost.size)
        whole = [(ones if weight is None else weight.astype(np.float64)) @ values.astype(np.float64)
                 for weight, values in terms]
        for scope, code in self._code.items():
            group = code[block.places]
            if np.all(group == group[0]):  # as of kinds, since a block is of one
                if group[0] >= 0:
                    for part, values in zip(self._parts[scope], whole, strict=True):
                        part[group[0]] += values
                continue
            for part, (weight, values) in zip(self._parts[scope], terms, strict=True):
                add_rows(part, group, values, weight)

    def join(self, others: ScopeSums) -> None:
        """Add the sums of other places, whose groups are among these."""
        for scope, names in others._names.items():
            at = pd.Index(self._names[scope]).get_indexer(pd.Index(names))
            for part, other in zip(self._parts[scope], others._parts[scope], strict=True):
                part[at] += other

    def moments(self) -> dict[str, Moments]:
        """Return the sums of each scope; nothing can be added any more."""
        found = {}
        for scope, names in self._names.items():
            mean, spread, cost, typical = (
                part.reshape(len(names), part.shape[1] // N_MONTHS, N_MONTHS)
                for part in self._parts[scope])
            for months in (spread, typical):
                np.cumsum(months, axis=2, out=months)
            found[scope] = Moments(names, mean, spread, cost, typical)
        return found


class PartSums:
    """Adds up hoses used by part number.

    Parameters
    ----------
    part_number : Series
        Of each place; empty where there is none.
    n_draws : int
    """

    def __init__(self, part_number: pd.Series[str], n_draws: int) -> None:
        """Begin with nothing."""
        code, names = pd.factorize(part_number, sort=True)  # -1 where there is none
        self._group = np.asarray(code, np.int64)
        self._names = tuple(str(name) for name in names)
        self._parts = np.zeros((2, len(names), n_draws * N_MONTHS))

    def add(
        self, places: Ints, used: Sequence[Singles], without: NDArray[np.bool_] | None = None
    ) -> None:
        """Add a block of places, some left out; ``used`` is `used_hoses` of it."""
        group = self._group[places]
        if without is not None:
            group = np.where(without[places], -1, group)
        for part, values in zip(self._parts, used, strict=True):
            add_rows(part, group, values)

    def join(self, others: PartSums) -> None:
        """Add the sums of other places, whose parts are among these."""
        at = pd.Index(self._names).get_indexer(pd.Index(others._names))
        self._parts[:, at] += others._parts

    def counts(self) -> Counts:
        """Return the sums."""
        shape = (len(self._names), self._parts.shape[2] // N_MONTHS, N_MONTHS)
        return Counts(self._names, *(part.reshape(shape) for part in self._parts))


def used_hoses(block: PlaceForecast) -> tuple[Singles, Singles]:
    """Return mean and variance of the hoses used at a block of places, each `flat`."""
    return flat(block.changes), flat(block.changes_variance)


def flat(values: Singles) -> Singles:
    """Return figures with one row a place."""
    return np.ascontiguousarray(values).reshape(values.shape[0], -1)


def add_rows(
    total: Reals, group: Ints, values: Singles | Floats,
    weight: Singles | Floats | None = None,
) -> None:
    """Add rows to the totals of their groups.

    Parameters
    ----------
    total : ndarray, shape (n_groups, n)
        Changed in place; rows are added in its precision.
    group : ndarray of int, shape (n_rows,)
        Rows of groups below 0 are left out.
    values : ndarray, shape (n_rows, ...), n numbers a row
    weight : ndarray, shape (n_rows,), optional
        1 where left out.
    """
    counted = np.flatnonzero(group >= 0)
    if not counted.size:
        return
    numbers, at = np.unique(group[counted], return_inverse=True)
    each = np.ones(counted.size, total.dtype)
    if weight is not None:
        each *= weight[counted]
    member: Any = sparse.csr_array((each, (at.ravel(), counted)), shape=(numbers.size, group.size))
    total[numbers] += member @ values.reshape(group.size, -1)
