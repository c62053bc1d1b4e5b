"""Random numbers that belong to one stratum each, whatever is simulated beside it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from etl.life.segments import segments

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

Source = Callable[[np.random.Generator, NDArray[np.intp]], NDArray[np.generic]]


class Streams:
    """One stream of random numbers for each stratum and purpose.

    A stratum's numbers depend on the seed and its name alone: neither strata that come or go
    beside it nor the sizes of blocks of replicates move them.

    Parameters
    ----------
    seed : int
        Not below 0.
    names : sequence of str
        One a stratum; equal names share their numbers.

    Examples
    --------
    >>> alone = Streams(1, ["b"]).random("age", np.array([0, 0]), 1)
    >>> beside = Streams(1, ["a", "b"]).random("age", np.array([1, 0, 1]), 2)
    >>> bool((alone == beside[[0, 2]]).all())
    True
    """

    def __init__(self, seed: int, names: Sequence[str]) -> None:
        """Keep the names; streams are opened as they are asked for."""
        self._seed, self._names = seed, names
        self._open: dict[tuple[str, int], np.random.Generator] = {}

    def random(self, purpose: str, key: Ints, n_strata: int) -> Floats:
        """Draw numbers evenly between 0 and 1.

        Parameters
        ----------
        purpose : str
            Numbers of different purposes are independent.
        key : ndarray of int, shape (n,)
            Replicate times ``n_strata`` plus stratum of each row. Replicates must come in order
            from call to call.
        n_strata : int

        Returns
        -------
        ndarray, shape (n,)
        """
        return np.asarray(self._draw(purpose, key, n_strata,
                                     lambda rng, rows: rng.random(rows.size)), np.float64)

    def exponential(self, purpose: str, key: Ints, n_strata: int) -> Floats:
        """Draw exponential numbers of mean 1; parameters as in `random`."""
        return np.asarray(self._draw(purpose, key, n_strata,
                                     lambda rng, rows: rng.exponential(size=rows.size)), np.float64)

    def binomial(self, purpose: str, key: Ints, n_strata: int, n: Ints, p: Floats) -> Ints:
        """Draw binomial numbers of ``n`` trials of chance ``p``, both of shape (n,)."""
        return np.asarray(self._draw(purpose, key, n_strata,
                                     lambda rng, rows: rng.binomial(n[rows], p[rows])), np.intp)

    def _draw(self, purpose: str, key: Ints, n_strata: int, source: Source) -> NDArray[np.generic]:
        """Draw for each row from the stream of its stratum, replicates in order."""
        order = np.lexsort((key, key % n_strata))
        runs = segments(key[order] % n_strata)
        parts = [source(self.stream(purpose, int(stratum)), order[start:start + size])
                 for stratum, start, size in zip(runs.keys, runs.starts, runs.sizes, strict=True)]
        drawn = np.concatenate([np.zeros(0, np.int64), *parts])
        back = np.empty_like(drawn)
        back[order] = drawn
        return back

    def stream(self, purpose: str, stratum: int) -> np.random.Generator:
        """Return the stream of a stratum for a purpose; it goes on where it was left."""
        found = self._open.get((purpose, stratum))
        if found is None:
            text = f"{purpose}\x1f{self._names[stratum]}".encode()
            word = int.from_bytes(hashlib.sha256(text).digest()[:16], "little")
            found = self._open[purpose, stratum] = np.random.default_rng([self._seed, word])
        return found
