"""Forecasts of places added up by line, site, class and part, draw by draw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from etl.life.renewal import N_MONTHS, PlaceForecast, Singles

Floats = NDArray[np.float64]
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
class Moments(Counts):
    """The same with what the changes cost, month by month.

    Attributes
    ----------
    variance, cost_variance : ndarray, shape (n_groups, n_draws, 12)
        Running sums of the variances of single months, which is not that of all months together:
        a hose that failed in one month hardly fails in the next.
    cost_mean : ndarray, shape (n_groups, n_draws, 12)
    """

    cost_mean: Floats
    cost_variance: Floats


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
        self._parts = {scope: np.zeros((4, len(names), n_draws * N_MONTHS))
                       for scope, names in self._names.items()}

    def add(self, block: PlaceForecast, price: Floats) -> None:
        """Add a block of places; a price that is NaN counts as nothing."""
        cost = np.nan_to_num(price[block.places])
        mean, spread = (values.reshape(cost.size, -1).astype(np.float64) for values in
                        (block.expected, block.month_variance.cumsum(axis=2)))
        one = np.ones(cost.size)
        terms = ((one, mean), (one, spread), (cost, mean), (cost**2, spread))
        whole = np.stack([weight @ values for weight, values in terms])
        for scope, code in self._code.items():
            group = code[block.places]
            if np.all(group == group[0]):  # as of kinds, since a block is of one
                if group[0] >= 0:
                    self._parts[scope][:, group[0]] += whole
                continue
            for part, (weight, values) in zip(self._parts[scope], terms, strict=True):
                add_rows(part, group, values, weight)

    def moments(self) -> dict[str, Moments]:
        """Return the sums of each scope."""
        return {
            scope: Moments(names, *(
                part.reshape(len(names), part.shape[1] // N_MONTHS, N_MONTHS)
                for part in self._parts[scope]))
            for scope, names in self._names.items()}


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

    def add(self, block: PlaceForecast, without: NDArray[np.bool_] | None = None) -> None:
        """Add a block of places, some left out."""
        group = self._group[block.places]
        if without is not None:
            group = np.where(without[block.places], -1, group)
        for part, values in zip(
                self._parts, (block.changes, block.changes_variance), strict=True):
            add_rows(part, group, values)

    def counts(self) -> Counts:
        """Return the sums."""
        shape = (len(self._names), self._parts.shape[2] // N_MONTHS, N_MONTHS)
        return Counts(self._names, *(part.reshape(shape) for part in self._parts))


def add_rows(
    total: Floats, group: Ints, values: Singles | Floats, weight: Floats | None = None
) -> None:
    """Add rows to the totals of their groups.

    Parameters
    ----------
    total : ndarray, shape (n_groups, n)
        Changed in place.
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
    each = np.ones(counted.size) if weight is None else weight[counted]
    member = sparse.csr_array((each, (at.ravel(), counted)), shape=(numbers.size, group.size))
    total[numbers] += member @ values.reshape(group.size, -1).astype(np.float64, copy=False)
