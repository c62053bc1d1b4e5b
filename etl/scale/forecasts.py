"""Forecasts of the places of a partition: summed by atom, the dearest kept by name."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import sums
from etl.life.cell_law import CellLaw
from etl.life.frailty import rate_draws
from etl.life.late_forecasts import forecast_late
from etl.life.renewal import N_MONTHS, PlaceForecast, forecast_places
from etl.scale.alike import WORTH_FROM as ALIKE_WORTH_FROM
from etl.scale.alike import AlikeTable, alike_tables
from etl.scale.partitions import Partition
from etl.scale.places import ClassLaw, Peers, Places, PlaceTask, read_places
from etl.scale.table import CHANCE, WORTH_FROM, Table, table_of
from etl.scale.worst import Worst

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

AT_ONCE = 6144
"""Places whose draws are held at once: 5 MB, and a whole number of blocks of the forecast."""
READ_AT_ONCE = 512
"""Places that are read from a table at once: 16 nodes a place and draw, 20 MB."""
PLACES_A_TASK = 100_000
"""Partitions of a class are handed out together up to so many places: they share tables."""


@dataclass(frozen=True)
class ForecastTask:
    """Some partitions of a class, its laws, and how far places differ.

    Attributes
    ----------
    partitions : tuple of Partition
    law : ClassLaw
    peers : Peers
    seed : int
    is_tabled : bool
        Whether the class has so many places that tables are worth making.
    """

    partitions: tuple[Partition, ...]
    law: ClassLaw
    peers: Peers
    seed: int
    is_tabled: bool


@dataclass(frozen=True)
class MonthSums:
    """Failures and their cost within 1 .. 12 months, summed over the places of an atom.

    Attributes
    ----------
    site, application_class : str
    sums : ndarray, shape (4, n_draws, 12)
        Mean and variance of the count, mean and variance of the cost; the variances are running
        sums over single months.
    missing : ndarray, shape (2, n_draws)
        Failures not on record yet: mean and variance of their number.
    """

    site: str
    application_class: str
    sums: Floats
    missing: Floats


def forecast_tasks(tasks: Sequence[PlaceTask], peers: Peers, seed: int) -> list[ForecastTask]:
    """Return the tasks of a fleet, from its partitions in the order of class and site."""
    found = []
    for _class, mine in itertools.groupby(tasks, lambda task: task.partition.application_class):
        parts = [(task.partition, task.law) for task in mine]
        law = parts[0][1]
        n_places = sum(part.n_places for part, _ in parts)
        # By the class as a whole: however it is parted, its places are forecast alike.
        worth_from = ALIKE_WORTH_FROM if np.isinf(peers.concentration) else WORTH_FROM
        is_tabled = n_places >= worth_from * len(law.constructions)
        groups: list[list[Partition]] = [[]]
        for part, _ in parts:
            if groups[-1] and sum(one.n_places for one in groups[-1]) >= PLACES_A_TASK:
                groups.append([])
            groups[-1].append(part)
        found += [ForecastTask(tuple(group), law, peers, seed, is_tabled) for group in groups]
    return found


def forecast(task: ForecastTask) -> tuple[list[MonthSums], Worst | None]:
    """Forecast the places of some partitions.

    Parameters
    ----------
    task : ForecastTask

    Returns
    -------
    list of MonthSums
        In order of site and construction.
    Worst or None
        The places that may be among the dearest of the fleet; None without a hose in service.

    Raises
    ------
    InputError
        A partition cannot be read, or is not as listed.
    """
    found: list[MonthSums] = []
    worst: Worst | None = None
    laws = [_law_of(task.law, cell) for cell in range(len(task.law.constructions))]
    alike = alike_tables(laws) if task.is_tabled and np.isinf(task.peers.concentration) else None
    for partition in task.partitions:
        places = read_places(PlaceTask(partition, task.law))
        for cell in range(len(task.law.constructions)):
            mine = np.flatnonzero(places.cell == cell)
            if not mine.size:
                continue
            table = None
            if task.is_tabled:
                table = table_of(laws[cell]) if alike is None else alike[cell]
            atom = _Atom(task, partition, places, cell, laws[cell], table)
            for at in range(0, mine.size, AT_ONCE):
                more = atom.add(mine[at:at + AT_ONCE]).pruned()
                worst = more if worst is None else worst.beside(more).pruned()
            found.append(MonthSums(partition.site, partition.application_class, atom.months(),
                                   atom.missing))
    return found, worst


class _Atom:
    """Forecasts the places of one atom and adds them up.

    Parameters
    ----------
    task : ForecastTask
    partition : Partition
    places : Places
        Of the partition.
    cell : int
        Position of the construction.
    law : CellLaw
        Of that construction.
    table : Table, AlikeTable or None
        Of that law; without one, places are forecast one by one.
    """

    def __init__(
        self, task: ForecastTask, partition: Partition, places: Places, cell: int, law: CellLaw,
        table: Table | AlikeTable | None,
    ) -> None:
        """Begin with nothing."""
        self._task, self._partition, self._places, self._cell = task, partition, places, cell
        self._law, self._share = law, partition.share
        # Where the hose on record may be there no more, a place is a mixture of two ages.
        self._table = table if self._share.size == 1 else None
        n_draws = law.shape.shape[0]
        self._total = np.zeros((4, n_draws, N_MONTHS))
        self.missing = np.zeros((2, n_draws))
        self._on_nodes: Floats | None = None

    def add(self, mine: Ints) -> Worst:
        """Forecast some places, and return them."""
        places = self._places
        names = [f"{self._partition.site}\x1f{places.names[place]}" for place in mine]
        price = places.price[mine]
        age, rate, row, weight = _rows(self._task, places, mine, names)
        year, chance = np.empty(rate.shape, np.float32), np.empty(age.size)
        alone = np.arange(age.size)
        if self._table is not None:
            held = self._table.holds(age, rate)
            read, alone = np.flatnonzero(held), np.flatnonzero(~held)
            for at in range(0, read.size, READ_AT_ONCE):
                some = read[at:at + READ_AT_ONCE]
                more, year[some], chance[some] = self._table.read(
                    age[some], rate[some], weight[:, some])
                self._on_nodes = more if self._on_nodes is None else self._on_nodes + more
        for block, late in self._blocks(alone, age[alone], rate[alone]):
            count = weight[0, block.places, None]
            self.missing += np.stack([count * late, count * late * (1.0 - late)]).sum(axis=1)
            mean = block.expected.astype(np.float64)
            spread = block.month_variance.cumsum(axis=2).astype(np.float64)
            times = weight[:, block.places, None, None]
            for part, (which, values) in enumerate(
                    ((0, mean), (0, spread), (1, mean), (2, spread))):
                self._total[part] += (times[which] * values).sum(axis=0)
            year[block.places] = block.expected[:, :, -1]
            chance[block.places] = block.chance_90_days.mean(axis=1, dtype=np.float64)
        year = year[row]
        usual = np.where(np.isfinite(price), price, self._task.peers.usual_price)
        return Worst(
            np.array(names, object),
            np.full(mine.size, self._partition.application_class, object),
            np.full(mine.size, self._task.law.constructions[self._cell], object),
            places.age[mine], price, places.seen[mine], places.expected[mine], chance[row], year,
            year * usual.astype(np.float32)[:, None])

    def _blocks(
        self, places: Ints, age: Floats, rate: Singles
    ) -> Iterator[tuple[PlaceForecast, Singles]]:
        """Yield forecasts with the chances that the hose on record has failed by now."""
        if self._share.size > 1:
            yield from forecast_late(self._law, places, age, rate, self._share)
            return
        for block in forecast_places(self._law, places, age, rate):
            yield block, np.zeros(block.chance_90_days.shape, np.float32)

    def months(self) -> Floats:
        """Return the sums of the atom; see `MonthSums`."""
        if self._table is None or self._on_nodes is None:
            return self._total
        figures = self._table.months(self._on_nodes)
        found = self._total.copy()
        for part, (which, months) in enumerate(
                ((0, slice(0, N_MONTHS)), (0, slice(N_MONTHS, CHANCE)),
                 (1, slice(0, N_MONTHS)), (2, slice(N_MONTHS, CHANCE)))):
            found[part] += figures[months, which].T
        return found


def _law_of(law: ClassLaw, cell: int) -> CellLaw:
    """Return the law of a construction of a class."""
    own = np.flatnonzero(law.cell == cell)
    return CellLaw(np.exp(law.log_shape[:, own]), law.log_life[:, own],
                   removal=law.removals[cell])


def _rows(
    task: ForecastTask, places: Places, mine: Ints, names: list[str]
) -> tuple[Floats, Singles, Ints, Floats]:
    """Return age and rate of what is forecast, the row of each place, and what rows stand for.

    Where places do not differ, those with hoses of one age share a row. Rows stand for places,
    for the sum of their prices and for the sum of the squares.
    """
    n_draws = task.law.log_shape.shape[0]
    nu = task.peers.concentration
    age, row = places.age[mine], np.arange(mine.size, dtype=np.int64)
    if np.isinf(nu):
        age, inverse = np.unique(age, return_inverse=True)
        row = inverse.astype(np.int64)
        rate: Singles = np.ones((age.size, n_draws), np.float32)
    else:
        rate = rate_draws(places.seen[mine], places.expected[mine], nu, n_draws, task.seed, names)
    price = np.nan_to_num(places.price[mine])
    weight = np.stack([sums(row, values, age.size)
                       for values in (np.ones(mine.size), price, price**2)])
    return age, rate, row, weight
