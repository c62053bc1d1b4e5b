"""Lives as they would have been seen, had they come from a given Weibull distribution.

The watching stays as it was: entries, ends of watching, and how closely failures are seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.product_limit import accumulated_hazard, at_risk_before
from etl.life.streams import Streams

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class SeenLives:
    """Lives in the layout of `etl.life.fit.fit_strata`, arrays of shape (n,)."""

    stratum: Ints
    entry: Floats
    low: Floats
    high: Floats
    count: Floats

    @property
    def is_failed(self) -> Bools:
        """Lives that ended by a failure, seen or found."""
        return np.isfinite(self.high)

    @property
    def end(self) -> Floats:
        """Age at the end; the middle of an interval as far as it lies beyond the entry."""
        low = np.maximum(self.low, self.entry)
        return np.where(self.is_failed, 0.5 * (low + np.where(self.is_failed, self.high, 0.0)), low)

    def only(self, rows: NDArray[np.generic]) -> SeenLives:
        """Return some of the rows."""
        return SeenLives(self.stratum[rows], self.entry[rows], self.low[rows], self.high[rows],
                         self.count[rows])

    def one_by_one(self) -> SeenLives:
        """Return every failure as a row of its own; counts of failures are rounded."""
        times = np.where(self.is_failed, self.count.round(), 1.0).astype(np.intp)
        rows = np.repeat(np.arange(times.size), times)
        each = self.only(rows)
        return SeenLives(each.stratum, each.entry, each.low, each.high,
                         np.where(each.is_failed, 1.0, each.count))


@dataclass(frozen=True)
class Watching:
    """How the lives of some strata were watched.

    Attributes
    ----------
    failed, held : SeenLives
        Failures, one a row and sorted by stratum, and suspensions.
    spent : ndarray, shape (n_failed,)
        Hazard of an end of watching, accumulated when each failure came.
    stop_stratum, stop_spent, stop_age : ndarray, shape (n_stops,)
        Ends of watching by stratum and age: the hazard accumulated there, and the ages.
    n_strata : int
    """

    failed: SeenLives
    held: SeenLives
    spent: Floats
    stop_stratum: Ints
    stop_spent: Floats
    stop_age: Floats
    n_strata: int

    def of(self, is_wanted: Bools) -> Watching:
        """Return the watching of some of the strata; the numbers of the strata stay."""
        mine = is_wanted[self.failed.stratum]
        return Watching(self.failed.only(mine), self.held.only(is_wanted[self.held.stratum]),
                        self.spent[mine], self.stop_stratum, self.stop_spent, self.stop_age,
                        self.n_strata)


def watching_of(lives: SeenLives, n_strata: int) -> Watching:
    """Read from lives how they were watched.

    Parameters
    ----------
    lives : SeenLives
    n_strata : int

    Returns
    -------
    Watching

    Notes
    -----
    When a failed life would have stopped being watched is unknown; it is drawn from the
    product-limit estimate of the ends of watching, given that it lay beyond the failure. Where
    nothing was suspended beyond it, watching is taken to have had no end.

    References
    ----------
    The conditional bootstrap for censored lives of Davison and Hinkley (1997), Bootstrap Methods
    and Their Application, section 3.5 (from memory).
    """
    each = lives.one_by_one()
    at_risk, order = at_risk_before(
        each.stratum, each.entry, each.end, each.is_failed, each.count)
    each = each.only(order)
    spent = accumulated_hazard(each.stratum, each.end, ~each.is_failed, each.count, at_risk)
    failed = np.flatnonzero(each.is_failed)
    stops = np.flatnonzero(~each.is_failed)
    return Watching(each.only(failed), each.only(stops), spent[failed], each.stratum[stops],
                    spent[stops], each.end[stops], n_strata)


def simulated(
    watching: Watching, shape: Floats, characteristic_life: Floats, n_replicates: int,
    streams: Streams,
) -> SeenLives:
    """Draw sets of lives from Weibull distributions, watched as the lives in hand were.

    Parameters
    ----------
    watching : Watching
    shape, characteristic_life : ndarray, shape (n_strata,)
    n_replicates : int
    streams : Streams

    Returns
    -------
    SeenLives
        Replicate ``r`` of stratum ``k`` is stratum ``r * n_strata + k``; each failure is a row.

    Notes
    -----
    A simulated failure is seen to the day or found between two looks in the proportion of the
    failures in hand; its interval is as long as one of theirs and falls anywhere around the age.
    """
    held, n = watching.held, watching.n_strata
    key = _by_replicate(watching.failed.stratum, n, n_replicates)
    entry = np.tile(watching.failed.entry, n_replicates)
    stop = _stops(watching, key, streams)
    spent = streams.exponential("spent", key, n)
    # a row of suspensions stands for several lives: some of them would have failed before
    held_key = _by_replicate(held.stratum, n, n_replicates)
    whole = np.tile(held.count.round(), n_replicates)
    ran = np.tile(_hazard(held.low, held.stratum, shape, characteristic_life)
                  - _hazard(held.entry, held.stratum, shape, characteristic_life), n_replicates)
    n_lost = streams.binomial("lost", held_key, n, whole.astype(np.intp), -np.expm1(-ran))
    lost = np.repeat(np.arange(held_key.size), n_lost)
    held_low, held_entry = np.tile(held.low, n_replicates), np.tile(held.entry, n_replicates)
    key = np.concatenate([key, held_key[lost]])
    entry = np.concatenate([entry, held_entry[lost]])
    stop = np.concatenate([stop, held_low[lost]])
    even = streams.random("spent by lost", held_key[lost], n)
    spent = np.concatenate([spent, -np.log1p(even * np.expm1(-ran[lost]))])
    age = _age(spent + _hazard(entry, key % n, shape, characteristic_life), key % n, shape,
               characteristic_life)
    age = np.maximum(age, np.nextafter(entry, np.inf))
    is_seen = (age <= stop) | (np.arange(key.size) >= key.size - lost.size)
    low, high = _looked_at(watching, key, age, entry, streams)
    left = np.flatnonzero(n_lost < whole)
    return SeenLives(
        np.concatenate([key, held_key[left]]), np.concatenate([entry, held_entry[left]]),
        np.concatenate([np.where(is_seen, low, stop), held_low[left]]),
        np.concatenate([np.where(is_seen, high, np.inf), np.full(left.size, np.inf)]),
        np.concatenate([np.ones(key.size), (whole - n_lost)[left]]))


def _by_replicate(stratum: Ints, n_strata: int, n_replicates: int) -> Ints:
    """Return the strata of all replicates, one replicate after the other."""
    return np.asarray((np.arange(n_replicates)[:, None] * n_strata + stratum).ravel(), np.intp)


def _stops(watching: Watching, key: Ints, streams: Streams) -> Floats:
    """Draw when each failed life would have stopped being watched; inf if never."""
    if not watching.stop_age.size or not key.size:
        return np.full(key.size, np.inf)
    stratum = key % watching.n_strata
    spent = np.tile(watching.spent, key.size // watching.spent.size) + streams.exponential(
        "stop", key, watching.n_strata)
    # stratum and hazard as one rising number
    top = watching.stop_spent.max() + 1.0
    ends = watching.stop_stratum + 0.5 * watching.stop_spent / top
    place = np.searchsorted(ends, stratum + 0.5 * np.minimum(spent, top) / top)
    at = np.minimum(place, ends.size - 1)
    mine = (place < ends.size) & (watching.stop_stratum[at] == stratum)
    return np.where(mine, watching.stop_age[at], np.inf)


def _looked_at(
    watching: Watching, key: Ints, age: Floats, entry: Floats, streams: Streams
) -> tuple[Floats, Floats]:
    """Return the ages between which each failure is known to lie."""
    lengths = watching.failed.high - watching.failed.low
    if not lengths.any():
        return age, age
    stratum = key % watching.n_strata
    first = np.searchsorted(watching.failed.stratum, stratum)
    size = np.searchsorted(watching.failed.stratum, stratum, side="right") - first
    even = streams.random("like", key, watching.n_strata)
    like = first + np.floor(even * size).astype(np.intp)
    length = lengths[np.minimum(like, lengths.size - 1)]
    opened = age - streams.random("opened", key, watching.n_strata) * length
    return np.maximum(opened, entry), np.where(length > 0.0, opened + length, age)


def _hazard(age: Floats, stratum: Ints, shape: Floats, life: Floats) -> Floats:
    """Return the hazard accumulated to ages of some strata."""
    with np.errstate(over="ignore"):  # no life gets that far
        return np.asarray((age / life[stratum]) ** shape[stratum])


def _age(spent: Floats, stratum: Ints, shape: Floats, life: Floats) -> Floats:
    """Return the ages at which so much hazard has accumulated."""
    return np.asarray(life[stratum] * spent ** (1.0 / shape[stratum]))
