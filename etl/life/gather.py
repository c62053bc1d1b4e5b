"""Fewer rows for simulation: suspensions gathered into groups, great strata sampled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.simulate import SeenLives
from etl.life.streams import Streams

Floats = NDArray[np.float64]


def gathered(lives: SeenLives, n_strata: int, n_groups: int) -> SeenLives:
    """Return lives with the suspensions of each stratum gathered into a few rows.

    Parameters
    ----------
    lives : SeenLives
    n_strata : int
    n_groups : int
        Rows that the suspensions of a stratum become at most, and as many again for those that
        entered late: neighbours in age together, at the mean of their log ages.

    Returns
    -------
    SeenLives

    Notes
    -----
    For simulation, whose cost goes with the rows.
    """
    held = ~lives.is_failed & (lives.low > lives.entry)
    parts = [lives.only(np.flatnonzero(lives.is_failed))]
    for is_late in (False, True):
        mine = np.flatnonzero(held & ((lives.entry > 0.0) == is_late))
        parts.append(_grouped(lives.only(mine), n_strata, n_groups))
    return SeenLives(*(np.concatenate(columns) for columns in zip(*(
        (part.stratum, part.entry, part.low, part.high, part.count) for part in parts),
        strict=True)))


def _grouped(held: SeenLives, n_strata: int, n_groups: int) -> SeenLives:
    """Return suspensions in groups of neighbours."""
    held = held.only(np.lexsort((held.entry, held.low, held.stratum)))
    size = np.bincount(held.stratum, minlength=n_strata)
    first = np.concatenate([[0], np.cumsum(size)[:-1]])
    rank = np.arange(held.low.size) - first[held.stratum]
    row = held.stratum * n_groups + rank * n_groups // np.maximum(size, n_groups)[held.stratum]
    count: Floats = np.bincount(row, held.count, n_strata * n_groups).astype(np.float64)
    filled = np.flatnonzero(count)

    def mean(values: Floats) -> Floats:
        return np.asarray(
            np.bincount(row, held.count * values, count.size)[filled] / count[filled])

    entry = np.exp(mean(np.log(held.entry))) if held.entry.any() else np.zeros(filled.size)
    return SeenLives((filled // n_groups).astype(np.intp), entry, np.exp(mean(np.log(held.low))),
                     np.full(filled.size, np.inf), count[filled])


def sampled(
    lives: SeenLives, n_failures: Floats, most: float, streams: Streams
) -> SeenLives:
    """Return lives with those strata thinned at random that hold too many failures.

    Parameters
    ----------
    lives : SeenLives
        Counts are taken as whole.
    n_failures : ndarray, shape (n_strata,)
    most : float
        Failures that a stratum holds afterwards on average, at most; suspensions and failures are
        thinned alike.
    streams : Streams

    Returns
    -------
    SeenLives
    """
    share = np.minimum(1.0, most / np.maximum(n_failures, 1.0))[lives.stratum]
    kept = lives.count.round()
    cut = np.flatnonzero(share < 1.0)
    kept[cut] = streams.binomial("sampled", lives.stratum[cut], n_failures.size,
                                 kept[cut].astype(np.intp), share[cut])
    left = np.flatnonzero(kept)
    return SeenLives(lives.stratum[left], lives.entry[left], lives.low[left], lives.high[left],
                     kept[left])
