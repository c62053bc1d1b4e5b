"""Failures of each place against its peers', and counts of alike places for the fleet."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives
from etl.build.rates import seen_and_expected
from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.life.frailty import fit_concentration, prone_from_chance, shrunken_rates
from etl.life.reporting_delay import watched_rows
from etl.scale.atoms import constructions_of
from etl.scale.partitions import Partition
from etl.scale.pool import FleetLaw
from etl.settings import Settings

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

BIN = 0.005
"""Width of the bins of expected failures on the log scale: what they round away is far below
what a place's own few failures leave open."""

PLACED = """
with numbered as (
    select service_point, row_number() over (order by service_point) - 1 as place from places
)

select n.place, list_position($constructions, coalesce(l.construction, 'unknown')) - 1 as cell,
    l.entry_age_days as entry, l.age_low_days as low,
    case when l.kind = 'suspended' then 'infinity'::double else l.age_high_days end as high,
    l.is_open, count(*)::double as n
from lives as l join numbered as n using (service_point)
where l.is_fitted
group by all
order by all
"""

HOSES = """
select service_point, coalesce(list_position($constructions, construction) - 1, -1) as cell,
    coalesce(age_days, 0)::double as age, coalesce(cost_per_failure, 'nan'::double)::double as price
from places
order by service_point
"""


@dataclass(frozen=True)
class ClassLaw:
    """Joint draws of the strata of one application class.

    Attributes
    ----------
    constructions : tuple of str
    cell : ndarray of int, shape (n_strata,)
        Position of each stratum's construction.
    log_shape, log_life : ndarray, shape (n_draws, n_strata)
    removals : tuple of Removal, one a construction
    """

    constructions: tuple[str, ...]
    cell: Ints
    log_shape: Singles
    log_life: Singles
    removals: tuple[Removal, ...]


@dataclass(frozen=True)
class PlaceTask:
    """A partition and the laws of its class."""

    partition: Partition
    law: ClassLaw


@dataclass(frozen=True)
class Places:
    """The places of a partition, sorted by name.

    Attributes
    ----------
    names : tuple of str
    cell : ndarray of int, shape (n_places,)
        Position of the present hose's construction in the law; -1 where there is none.
    age : ndarray, shape (n_places,), days
    price : ndarray, shape (n_places,)
        Cost of a failure; NaN where unknown.
    seen, expected : ndarray, shape (n_places,)
    """

    names: tuple[str, ...]
    cell: Ints
    age: Floats
    price: Floats
    seen: Floats
    expected: Floats


@dataclass(frozen=True)
class Tally:
    """Places of a partition that are alike, counted.

    Attributes
    ----------
    alike : ndarray of int, shape (n, 3)
        Failures seen, bin of failures expected, places.
    n_priced, sum_price : float
        Places in service whose cost of a failure is known, and the sum of it.
    """

    alike: Ints
    n_priced: int
    sum_price: float


@dataclass(frozen=True)
class Peers:
    """How far places of the fleet differ.

    Attributes
    ----------
    concentration : float
        Of their rates; infinite where no difference beyond chance shows.
    prone_from : float
        Chance of being failure-prone from which on a place is flagged.
    usual_price : float
        Stands in for a cost that is not known, in the order of places only.
    """

    concentration: float
    prone_from: float
    usual_price: float


def class_laws(fleet: FleetLaw) -> dict[str, ClassLaw]:
    """Return the draws of each application class: all that the work on its places needs."""
    laws = {}
    names, strata = fleet.cells.names, fleet.strata
    for kind in sorted({name[0] for name in names}):
        cells = [cell for cell, name in enumerate(names) if name[0] == kind]
        own = np.flatnonzero(np.isin(strata.cell, cells))
        laws[kind] = ClassLaw(
            tuple(names[cell][1] for cell in cells),
            np.searchsorted(cells, strata.cell[own]).astype(np.int64),
            fleet.draws.log_shape[:, own], fleet.draws.log_life[:, own],
            tuple(fleet.removals[cell] for cell in cells))
    return laws


def read_places(task: PlaceTask) -> Places:
    """Read the places of a partition, and set their failures against those expected.

    Parameters
    ----------
    task : PlaceTask

    Returns
    -------
    Places

    Raises
    ------
    InputError
        The partition cannot be read, or is not as listed.
    """
    con = task.partition.open()
    try:
        known = {"constructions": list(task.law.constructions)}
        mine = constructions_of(con)
        hoses = con.execute(HOSES, known).fetchnumpy()
        rows = {key: np.asarray(values, np.float64)
                for key, values in con.execute(PLACED, known).fetchnumpy().items()}
    except (duckdb.Error, OSError) as exc:
        raise task.partition.fault(exc) from exc
    finally:
        con.close()
    row, low, n = watched_rows(rows["entry"], rows["low"], rows["n"], rows["is_open"] > 0.0,
                               task.partition.share)
    rows = {key: values[row] for key, values in rows.items()} | {"low": low, "n": n}
    names = tuple(hoses["service_point"].tolist())
    seen, expected = np.zeros(len(names)), np.zeros(len(names))
    for name in mine:  # one atom after the other, each by itself
        lives, strata, own = _atom_lives(rows, task.law, name, names)
        more = seen_and_expected(lives, strata, task.law.log_shape[:, own].astype(np.float64),
                                 task.law.log_life[:, own].astype(np.float64))
        seen, expected = seen + more[0], expected + more[1]
    return Places(names, np.asarray(hoses["cell"], np.int64), np.asarray(hoses["age"], np.float64),
                  np.asarray(hoses["price"], np.float64), seen, expected)


def _atom_lives(
    rows: dict[str, Floats], law: ClassLaw, name: str, names: tuple[str, ...]
) -> tuple[Lives, Strata, Ints]:
    """Return the lives of one construction and its strata."""
    cell = law.constructions.index(name)
    mine = rows["cell"] == cell
    place, entry, low, high, n = (rows[key][mine]
                                  for key in ("place", "entry", "low", "high", "n"))
    own = np.flatnonzero(law.cell == cell)
    zero = np.zeros(n.size, np.int64)
    one = np.zeros(1, np.int64)
    lives = Lives(zero, entry, low, high, zero, place.astype(np.int64), n, one, one, ("",),
                  (name,), (), names)
    strata = Strata(np.zeros(own.size, np.int64), np.zeros(own.size, np.int64), ())
    return lives, strata, own


def tally(task: PlaceTask) -> Tally:
    """Count the places of a partition that are alike; see `read_places` for what it raises."""
    places = read_places(task)
    kept = places.expected > 0.0
    bins = np.floor(np.log(places.expected[kept]) / BIN).astype(np.int64)
    pairs, count = np.unique(np.stack([places.seen[kept].astype(np.int64), bins], axis=1), axis=0,
                             return_counts=True)
    price = places.price[(places.cell >= 0) & np.isfinite(places.price)]
    return Tally(np.column_stack([pairs, count]).astype(np.int64), price.size, math.fsum(price))


def compare(tallies: Iterable[Tally], settings: Settings) -> Peers:
    """Estimate how far the places of a fleet differ, from counts of alike ones.

    Parameters
    ----------
    tallies : iterable of Tally
        In the order of the partitions.
    settings : Settings

    Returns
    -------
    Peers
    """
    total: dict[tuple[int, int], int] = {}
    n_priced, prices = 0, []
    for item in tallies:
        for seen, at, count in item.alike.tolist():
            total[seen, at] = total.get((seen, at), 0) + count
        n_priced += item.n_priced
        prices.append(item.sum_price)
    rows = np.array([(*key, n) for key, n in sorted(total.items())], np.float64).reshape(-1, 3)
    seen, expected, count = rows[:, 0], np.exp((rows[:, 1] + 0.5) * BIN), rows[:, 2]
    concentration, _ = fit_concentration(seen, expected, count)
    chance = shrunken_rates(seen, expected, concentration, settings.confidence)[3]
    return Peers(concentration, prone_from_chance(chance, count, settings.flag_false_share),
                 math.fsum(prices) / n_priced if n_priced else 1.0)
