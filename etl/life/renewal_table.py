"""Forecasts of many places of one cell from a table over age and rate, in place of one by one.

A place's forecast depends on the law of its cell, on the age of its hose and on its rate. Where a
cell has hundreds of places, some ages and rates are forecast as any place would be and the others
lie between them. A sample of the places is forecast both ways: where that is not near enough, the
table is made finer, or the places are forecast one by one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from etl.life.cell_law import CellLaw
from etl.life.renewal import N_MONTHS, PlaceForecast, forecast_grid, forecast_places

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

ERROR, ERROR_OF_VARIANCE = 0.003, 0.03
"""The mean of the draws of a figure is off by at most this share where it was looked at."""
SMALL, SMALL_VARIANCE = 0.01, 0.05
"""Shares are of so much where less is expected."""
YOUNG_DAYS = 10.0
"""Younger hoses are forecast one by one: their hazard may bend sharply. Nodes lie evenly in the
logarithm of age plus this."""
FINENESS = ((0.36, 8), (0.24, 14), (0.12, 14))
"""Spacings of the nodes of age and numbers of those of the rate, tried one after the other."""
LEAST_LOG_RATE = -5.0
"""Below it, failures are in proportion to the rate."""
N_LOOKED_AT = 24
WORTH = 1.5
"""Places for each one forecast for the table, from which it is cheaper."""
AT_ONCE = 256
"""Places read at once."""

NUMBERS = tuple(field.name for field in fields(PlaceForecast) if field.name != "places")
CHANGES = frozenset({"changes", "changes_variance"})
PROPORTIONAL = frozenset(NUMBERS) - CHANGES
SINGLE = frozenset({"chance_90_days", "chance_90_days_new", "chance_12_months"})
VARIANCES = frozenset({"variance", "month_variance", "changes_variance"})


@dataclass(frozen=True)
class _Rates:
    """Nodes of the logarithm of the rate, and the polynomials through them."""

    low: float
    high: float
    n: int

    def nodes(self) -> Floats:
        """Return the rates at the nodes, shape (n,)."""
        unit = chebyshev.chebpts1(self.n)
        return np.asarray(np.exp(0.5 * (self.low + self.high + (self.high - self.low) * unit)))

    def coefficients(self) -> Floats:
        """Return the matrix that turns values at the nodes into coefficients, shape (n, n)."""
        unit = chebyshev.chebpts1(self.n)
        return np.asarray(np.linalg.inv(chebyshev.chebvander(unit, self.n - 1)))

    def polynomials(self, rate: Singles) -> Singles:
        """Return the Chebyshev polynomials at rates, shape (*rate.shape, n)."""
        found = np.ones((*rate.shape, self.n), np.float32)
        if self.n == 1:
            return found
        log_rate = np.log(np.maximum(rate, np.exp(np.float32(self.low))))
        unit = (2.0 * log_rate - (self.low + self.high)) / (self.high - self.low)
        found[..., 1] = unit
        for k in range(2, self.n):
            found[..., k] = 2.0 * unit * found[..., k - 1] - found[..., k - 2]
        return found


@dataclass(frozen=True)
class _Table:
    """Coefficients of the figures of a cell, those in proportion to the rate divided by it.

    Attributes
    ----------
    first, spacing : float
        Of the nodes of log(age + `YOUNG_DAYS`).
    values : ndarray, shape (n_draws, n_ages, n_rates, n_figures)
    columns : dict of str to slice
        Where the figures of a `PlaceForecast` stand.
    """

    first: float
    spacing: float
    rates: _Rates
    values: Singles
    columns: dict[str, slice]

    def read(self, places: Ints, age: Floats, rate: Singles) -> Iterator[PlaceForecast]:
        """Yield the forecasts of places, those of like age together."""
        at = (np.log(age + YOUNG_DAYS) - self.first) / self.spacing
        start = np.clip(at.astype(np.int64) - 1, 0, self.values.shape[1] - 4)
        order = np.argsort(start, kind="stable")
        for group in np.split(order, np.flatnonzero(np.diff(start[order])) + 1):
            for low in range(0, group.size, AT_ONCE):
                mine = group[low:low + AT_ONCE]
                yield self._between(places[mine], int(start[mine[0]]),
                                    at[mine] - start[mine], rate[mine])

    def _between(self, places: Ints, start: int, at: Floats, rate: Singles) -> PlaceForecast:
        """Read places between the same nodes of age."""
        n_draws, _, n_rates, n_figures = self.values.shape
        z = np.ascontiguousarray(rate.T)
        by_rate, scaled = self.rates.polynomials(z), PROPORTIONAL & self.columns.keys()
        if scaled == self.columns.keys():  # all alike: before, where it is less work
            by_rate, scaled = by_rate * z[..., None], frozenset()
        weight = cubic_shares(at).astype(np.float32)[None, :, :, None] * by_rate[:, :, None, :]
        near = self.values[:, start:start + 4].reshape(n_draws, 4 * n_rates, n_figures)
        found = np.asarray(weight.reshape(n_draws, at.size, 4 * n_rates) @ near, np.float32)
        np.maximum(found, np.float32(0.0), out=found)
        for name in scaled:
            found[..., self.columns[name]] *= z[..., None]
        by_place = np.moveaxis(found, 0, 1)
        parts: dict[str, Singles] = {
            name: by_place[..., where.start] if name in SINGLE else by_place[..., where]
            for name, where in self.columns.items()}
        parts.setdefault("changes", parts["expected"])
        parts.setdefault("changes_variance", parts["variance"])
        return PlaceForecast(places, **parts)


@dataclass(frozen=True)
class Forecaster:
    """How the places of one cell are forecast: from a table where they are many."""

    law: CellLaw
    table: _Table | None

    @classmethod
    def of(cls, law: CellLaw, age: Floats, rate: Singles) -> Forecaster:
        """Make the table that is near enough for places of these ages and rates, if one is.

        Parameters
        ----------
        law, age, rate
            As of `etl.life.renewal.forecast_places`.
        """
        old = np.flatnonzero(age >= YOUNG_DAYS)
        return cls(law, _near_table(law, age[old], rate[old]))

    def read(self, places: Ints, age: Floats, rate: Singles) -> Iterator[PlaceForecast]:
        """Yield the forecasts of some of the places, in an order of its own."""
        alone = np.arange(age.size)
        if self.table is not None:
            old = np.flatnonzero(age >= YOUNG_DAYS)
            yield from self.table.read(places[old], age[old], rate[old])
            alone = np.flatnonzero(age < YOUNG_DAYS)
        yield from forecast_places(self.law, places[alone], age[alone], rate[alone])


def forecast_many(
    law: CellLaw, places: Ints, age: Floats, rate: Singles
) -> Iterator[PlaceForecast]:
    """Forecast the places of one cell as `forecast_places` does, quickly where they are many.

    Parameters
    ----------
    law, places, age, rate
        As of `etl.life.renewal.forecast_places`.

    Yields
    ------
    PlaceForecast
        In an order of its own.

    Notes
    -----
    Cubic through the four nearest nodes of log(age + 10 days), and a polynomial through
    Chebyshev nodes of the logarithm of the rate. Nodes of age lie at fixed ages, whatever the
    places; those of the rate depend on the least and the greatest.
    """
    yield from Forecaster.of(law, age, rate).read(places, age, rate)


def _near_table(law: CellLaw, age: Floats, rate: Singles) -> _Table | None:
    """Return the coarsest table that is near enough; None where none is, or is worth its making."""
    for spacing, n_rates in FINENESS:
        if age.size < WORTH * N_LOOKED_AT:
            return None
        nodes, rates = _ages(age, spacing), _rates(rate, n_rates)
        if age.size < WORTH * (nodes.size * rates.n + N_LOOKED_AT):
            return None
        table = _table(law, nodes, spacing, rates)
        if _is_near(table, law, age, rate):
            return table
    return None


def _ages(age: Floats, spacing: float) -> Floats:
    """Return nodes of log(age + 10 days) about all ages, one more on each side."""
    start = np.log(YOUNG_DAYS)
    first, last = ((np.log(end + YOUNG_DAYS) - start) / spacing for end in (age.min(), age.max()))
    return np.asarray(start + spacing * np.arange(int(first) - 1, int(last) + 3))


def _rates(rate: Singles, n: int) -> _Rates:
    """Return nodes about all rates, beginning and ending at whole logarithms."""
    if rate.min() == rate.max():
        only = float(np.log(max(float(rate.min()), 1e-30)))
        return _Rates(only, only, 1)
    low, high = (float(np.log(max(float(end), 1e-30))) for end in (rate.min(), rate.max()))
    low = max(float(np.floor(low)), LEAST_LOG_RATE)
    return _Rates(low, max(float(np.ceil(high)), low + 1.0), n)


def _table(law: CellLaw, nodes: Floats, spacing: float, rates: _Rates) -> _Table:
    """Forecast a place at each node."""
    age = np.exp(nodes) - YOUNG_DAYS
    names = [name for name in NUMBERS if law.removal is not None or name not in CHANGES]
    columns, rows = _columns(names), []
    at_rates = rates.nodes().astype(np.float32).astype(np.float64)
    for z, block in zip(at_rates, forecast_grid(law, age, at_rates), strict=True):
        values = _beside(block, names)
        for name in PROPORTIONAL & columns.keys():
            values[..., columns[name]] /= z
        rows.append(values)
    stacked = np.stack(rows)
    values = rates.coefficients().astype(np.float32) @ stacked.reshape(rates.n, -1)
    by_draw = values.reshape(stacked.shape).transpose(2, 1, 0, 3)
    return _Table(float(nodes[0]), spacing, rates, np.ascontiguousarray(by_draw), columns)


def _columns(names: list[str]) -> dict[str, slice]:
    """Return where the figures stand beside one another."""
    widths = [1 if name in SINGLE else N_MONTHS for name in names]
    ends = np.cumsum(widths)
    return {name: slice(int(end) - width, int(end))
            for name, end, width in zip(names, ends, widths, strict=True)}


def _figures(law: CellLaw, age: Floats, rate: Singles, names: list[str]) -> Singles:
    """Forecast places one by one; shape (n, n_draws, n_figures)."""
    return np.concatenate([
        _beside(block, names) for block in forecast_places(law, np.arange(age.size), age, rate)])


def _beside(block: PlaceForecast, names: list[str]) -> Singles:
    """Return the figures of a block beside one another."""
    parts = (getattr(block, name) for name in names)
    return np.concatenate([part if part.ndim == 3 else part[..., None] for part in parts], axis=2)


def _is_near(table: _Table, law: CellLaw, age: Floats, rate: Singles) -> bool:
    """Return whether a sample of the places, spread over their ages, is near its own forecast."""
    order = np.argsort(age, kind="stable")
    some = order[np.linspace(0, age.size - 1, N_LOOKED_AT).astype(np.int64)]
    names = list(table.columns)
    exact = _figures(law, age[some], rate[some], names).mean(axis=1, dtype=np.float64)
    near = np.empty_like(exact)
    for block in table.read(np.arange(some.size), age[some], rate[some]):
        near[block.places] = _beside(block, names).mean(axis=1)
    for name, where in table.columns.items():
        error, small = (
            (ERROR_OF_VARIANCE, SMALL_VARIANCE) if name in VARIANCES else (ERROR, SMALL))
        gap = np.abs(near[:, where] - exact[:, where]) / np.maximum(exact[:, where], small)
        if gap.max() > error:
            return False
    return True


def cubic_shares(at: Floats) -> Floats:
    """Return the shares of four nodes, at 0 to 3, in what lies at these positions.

    Parameters
    ----------
    at : ndarray, any shape

    Returns
    -------
    ndarray, shape (*at.shape, 4)
        Adding up to 1: those of the cubic through the four (Lagrange).

    Examples
    --------
    >>> cubic_shares(np.array(1.5)).tolist()
    [-0.0625, 0.5625, 0.5625, -0.0625]
    """
    one, two, three = at - 1.0, at - 2.0, at - 3.0
    return np.stack([one * two * three / -6.0, at * two * three / 2.0,
                     at * one * three / -2.0, at * one * two / 6.0], axis=-1)
