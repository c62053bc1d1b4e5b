"""Forecasts of many like places from a table over age and rate, in place of one by one.

A place's forecast depends on the law of its cell, on the age of its hose and on its rate. Where a
cell has thousands of places, four hundred ages and rates are forecast as any place would be, and
all others lie between them. Where that is not near enough, places are forecast one by one.
`etl.life.renewal_table` reads single fleets so; here the nodes must be the same however the fleet
is parted, and most places are only added up, so that their shares of the nodes are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from etl.life.cell_law import CellLaw
from etl.life.renewal import N_MONTHS, forecast_grid_months
from etl.life.renewal_table import YOUNG_DAYS, cubic_shares

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Reals = NDArray[np.float32] | NDArray[np.float64]
Ints = NDArray[np.int64]

ERROR = 0.005
"""Between nodes, the mean of the draws of expected failures is off by at most this share."""
ERROR_OF_DRAW = 0.02
"""The same of a single draw, and of the variances."""
SMALL = 0.01
"""Shares are of so many failures where fewer are expected."""
AGES = np.linspace(np.log(YOUNG_DAYS), np.log(20.0 * 365.25 + YOUNG_DAYS), 29)
RATES = np.linspace(-4.0, 2.0, 16)
"""Logarithms of the rates; below, failures are in proportion to the rate."""
N_NODES = AGES.size * RATES.size
WORTH_FROM = 2 * N_NODES
"""Places a cell from which a table is cheaper, its making included."""
EVERY = 4
"""Of the draws, each so-many-th is looked at to see how near the table is."""
YEAR, CHANCE = N_MONTHS - 1, 2 * N_MONTHS
"""Positions of the failures within a year and the chance of one within 90 days."""
TABLES_KEPT = 32
"""Tables that a worker keeps: those of a class, 8 MB each at 200 draws."""


@dataclass(frozen=True)
class Table:
    """Forecasts of a cell, divided by the rate.

    Attributes
    ----------
    values : ndarray, shape (n_draws, n_ages * n_rates, 25)
        Failures within 1 .. 12 months, running sums of the variances of single months, chance of
        a failure within 90 days.
    is_near : ndarray of bool, shape (n_ages - 1, n_rates - 1)
        Whether what lies between four nodes is within `ERROR` and `ERROR_OF_DRAW`.
    """

    values: Singles
    is_near: NDArray[np.bool_]

    def holds(self, age: Floats, rate: Singles) -> NDArray[np.bool_]:
        """Return which places lie within the table, and near enough to it, in every draw.

        Parameters
        ----------
        age : ndarray, shape (n,), days
        rate : ndarray, shape (n, n_draws)
        """
        old, fast = np.log(age + YOUNG_DAYS), np.log(np.maximum(rate, 1e-12))
        row, column = _interval(AGES, old), _interval(RATES, fast)
        near = np.all(self.is_near[row[:, None], column], axis=1)
        return np.asarray(near & (old <= AGES[-1]) & (fast.max(axis=1) <= RATES[-1]), np.bool_)

    def read(self, age: Floats, rate: Singles, weight: Floats) -> tuple[Floats, Singles, Floats]:
        """Add some places to the nodes.

        Parameters
        ----------
        age : ndarray, shape (n,), days
        rate : ndarray, shape (n, n_draws)
        weight : ndarray, shape (n_weights, n)

        Returns
        -------
        on_nodes : ndarray, shape (n_draws * n_ages * n_rates, n_weights)
            Sums of the weights by their shares.
        year : ndarray, shape (n, n_draws)
            Failures within twelve months.
        chance : ndarray, shape (n,)
            Of a failure within 90 days, mean of the draws.
        """
        n_draws = rate.shape[1]
        share = self.between(age, rate)
        found = (share @ self._wanted).reshape(n_draws, age.size, 2)
        return (share.T @ np.tile(weight.T, (n_draws, 1)), found[..., 0].T.astype(np.float32),
                found[..., 1].mean(axis=0))

    @cached_property
    def _wanted(self) -> Floats:
        """Failures of a year and the chance at each node, as `read` takes them."""
        return self.values[..., [YEAR, CHANCE]].reshape(-1, 2).astype(np.float64)

    def months(self, on_nodes: Floats) -> Floats:
        """Return the figures of places added up on the nodes, shape (24, n_weights, n_draws)."""
        at = on_nodes.reshape(self.values.shape[0], N_NODES, -1)
        values = self.values[..., :CHANCE].astype(np.float64)
        return np.asarray(np.einsum("dnw,dnm->mwd", at, values))

    def between(self, age: Floats, rate: Singles) -> sparse.csr_array:
        """Return the share of each node in the forecast of each place, times the rate.

        Returns
        -------
        csr_array, shape (n_draws * n, n_draws * n_ages * n_rates)
            Cubic through the four nearest nodes in age and in the logarithm of the rate.
        """
        n_draws = rate.shape[1]
        old, by_age = _cubic(AGES, np.log(age + YOUNG_DAYS))
        # Laid out by draw, as the rows are: otherwise millions of shares are copied to get there.
        z = np.maximum(np.ascontiguousarray(rate.T, np.float64), 1e-12)
        fast, by_rate = _cubic(RATES, np.log(z))
        by_rate *= z[..., None]
        first = (np.arange(n_draws)[:, None] * AGES.size + old) * RATES.size + fast
        step = np.arange(4)[:, None] * RATES.size + np.arange(4)
        node = first.astype(np.int32)[..., None, None] + step.astype(np.int32)
        weight = by_age[None, :, :, None] * by_rate[:, :, None, :]
        return sparse.csr_array(
            (weight.ravel(), node.ravel(), np.arange(n_draws * age.size + 1, dtype=np.int32) * 16),
            shape=(n_draws * age.size, n_draws * N_NODES))


def table_of(law: CellLaw) -> Table:
    """Return the table of a cell, made once and kept."""
    return _table(np.ascontiguousarray(law.shape).tobytes(),
                  np.ascontiguousarray(law.log_life).tobytes(), law.shape.shape[0], law.removal)


@lru_cache(maxsize=TABLES_KEPT)
def _table(
    shape: bytes, log_life: bytes, n_draws: int, removal: tuple[float, float] | None
) -> Table:
    """Make the table of a cell, and see between its nodes how near it is."""
    law = CellLaw(*(np.frombuffer(part, np.float32).reshape(n_draws, -1)
                    for part in (shape, log_life)), removal=removal)
    values = forecast_nodes(law, AGES, RATES).reshape(n_draws, N_NODES, -1)
    some = CellLaw(law.shape[::EVERY], law.log_life[::EVERY], removal=removal)
    table = Table(values[::EVERY], np.ones((AGES.size - 1, RATES.size - 1), np.bool_))
    age, rate = (0.5 * (nodes[1:] + nodes[:-1]) for nodes in (AGES, RATES))
    exact = forecast_nodes(some, age, rate).astype(np.float64) * np.exp(rate)[:, None]
    n_some = exact.shape[0]
    each = np.repeat(np.exp(np.tile(rate, age.size))[:, None], n_some, axis=1).astype(np.float32)
    share = table.between(np.exp(np.repeat(age, rate.size)) - YOUNG_DAYS, each)
    near = np.asarray(share @ table.values.reshape(n_some * N_NODES, -1).astype(np.float64)
                      ).reshape(exact.shape)
    return Table(values, is_within(near - exact, exact))


def is_within(missed: Reals, exact: Reals) -> NDArray[np.bool_]:
    """Return where figures read are within `ERROR`, and in each draw within `ERROR_OF_DRAW`.

    Parameters
    ----------
    missed, exact : ndarray, shape (n_draws, ..., 25)
        What is read less what is right, and what is right.
    """
    mean = np.abs(missed.mean(axis=0)) / np.maximum(exact.mean(axis=0), SMALL)
    draws = np.abs(missed) / np.maximum(exact, SMALL)
    counts = [*range(N_MONTHS), CHANCE]
    return np.asarray((mean[..., counts].max(axis=-1) <= ERROR)
                      & (draws.max(axis=(0, -1)) <= ERROR_OF_DRAW))


def forecast_nodes(law: CellLaw, log_age: Floats, log_rate: Floats) -> Singles:
    """Forecast places of each age and rate; shape (n_draws, n_ages, n_rates, 25).

    Parameters
    ----------
    law : CellLaw
    log_age : ndarray, shape (n_ages,)
        Of the age plus `YOUNG_DAYS`.
    log_rate : ndarray, shape (n_rates,)
    """
    age = np.maximum(np.exp(log_age) - YOUNG_DAYS, 0.0)
    found = np.empty((law.shape.shape[0], age.size, log_rate.size, 2 * N_MONTHS + 1), np.float32)
    rates = np.exp(log_rate)
    for at, block in enumerate(forecast_grid_months(law, age, rates)):
        found[:, :, at] = np.moveaxis(np.concatenate([
            block.expected, block.month_variance.cumsum(axis=2),
            block.chance_90_days[..., None]], axis=2) / np.float32(rates[at]), 0, 1)
    return found


def _interval(nodes: Floats, at: Floats) -> Ints:
    """Return between which nodes each point lies."""
    step = nodes[1] - nodes[0]
    return np.asarray(np.clip((at - nodes[0]) / step, 0.0, nodes.size - 2.0), np.int64)


def _cubic(nodes: Floats, at: Floats) -> tuple[Ints, Floats]:
    """Return the first of the four nodes about each point, and the shares of the four."""
    step = nodes[1] - nodes[0]
    x = np.clip((at - nodes[0]) / step, 0.0, nodes.size - 1.0)
    first = np.clip(np.floor(x).astype(np.int64) - 1, 0, nodes.size - 4)
    return first, cubic_shares(x - first)
