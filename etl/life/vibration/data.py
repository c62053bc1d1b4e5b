"""Lives under vibration as arrays, reduced to what each construction saw at each place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

REFERENCE_MM_S = 8.0
"""Velocity at which intercepts are told: the middle of what machines shake (our choice)."""
LEAST_DAYS = 1e-3
"""No life counts as shorter: logs know whole days, and a hose out on its first is an interval."""


@dataclass(frozen=True)
class VibrationData:
    """Lives of hoses at places that shake.

    Attributes
    ----------
    place, construction : ndarray of int, shape (n_lives,)
        Codes.
    entry, low, high : ndarray, shape (n_lives,), days
        Age at entry (0: seen from new) and ages between which the life ended; equal for a failure
        whose day is known, ``high`` infinite for a suspension.
    failure : ndarray, shape (n_lives,)
        Share of the life that counts as a failure by vibration: 0 for a suspension, 1 for a
        concluded one, between where nobody concluded the mechanism.
    count : ndarray, shape (n_lives,)
    group : ndarray of int, shape (n_places,)
        Application class of each place.
    covariates : ndarray, shape (n_places, n_covariates)
        What else may shorten life (log pressure ratio, flow), centred; 0 where not recorded.
    log_frequency_ratio : ndarray, shape (n_places, n_constructions)
        Log of excitation over natural frequency; NaN where one is unknown.
    stiffness : ndarray, shape (n_constructions,)
        Log stiffness, centred; 0 where not recorded.
    reading_place : ndarray of int, shape (n_readings,)
    reading : ndarray, shape (n_readings,)
        Log of a measured velocity over `REFERENCE_MM_S`.
    rival : ndarray, shape (n_lives,), 1/day
        Where a hose came out for a reason that nobody wrote down: how often one of its age comes
        out for anything but vibration. 0 where the reason is known.
    """

    place: Ints
    construction: Ints
    entry: Floats
    low: Floats
    high: Floats
    failure: Floats
    count: Floats
    group: Ints
    covariates: Floats
    log_frequency_ratio: Floats
    stiffness: Floats
    reading_place: Ints
    reading: Floats
    rival: Floats

    @property
    def n_places(self) -> int:
        """Number of places, with or without lives."""
        return int(self.group.size)

    @property
    def n_constructions(self) -> int:
        """Number of constructions."""
        return int(self.stiffness.size)

    @property
    def n_groups(self) -> int:
        """Number of application classes."""
        return int(self.group.max(initial=0)) + 1

    @property
    def n_readings(self) -> Ints:
        """Readings of each place, shape (n_places,)."""
        return np.bincount(self.reading_place, minlength=self.n_places).astype(np.int64)

    @cached_property
    def place_stiffness(self) -> Floats:
        """Mean stiffness of the constructions used at each place, shape (n_places,).

        Each construction counts once however many hoses of it a place had: the shorter the lives
        of one, the more of them there are, and counted each they would pull the mean of their
        place towards themselves. Part of what a construction is worth would then pass for
        something about the place.
        """
        used = np.zeros((self.n_places, self.n_constructions), np.bool_)
        used[self.place, self.construction] = True
        return np.asarray(used @ self.stiffness / np.maximum(used.sum(axis=1), 1), np.float64)

    def every(self, step: int) -> VibrationData:
        """Return every so many places with their lives and readings."""
        lives, readings = self.place % step == 0, self.reading_place % step == 0
        return replace(
            self, **{name: getattr(self, name)[lives] for name in (
                "construction", "entry", "low", "high", "failure", "count", "rival")},
            **{name: getattr(self, name)[::step] for name in (
                "group", "covariates", "log_frequency_ratio")},
            place=self.place[lives] // step, reading=self.reading[readings],
            reading_place=self.reading_place[readings] // step)


@dataclass(frozen=True)
class Pairs:
    """Lives gathered by place and construction, in order of place, then construction.

    Attributes
    ----------
    place, construction : ndarray of int, shape (n_pairs,)
    n_failures, sum_log_age : ndarray, shape (n_pairs,)
        Failures, and the sum of their log ages.
    """

    place: Ints
    construction: Ints
    n_failures: Floats
    sum_log_age: Floats
    _log_end: Floats
    _end_count: Floats
    _end_start: Ints
    _log_entry: Floats
    _entry_count: Floats
    _entry_pair: Ints

    @property
    def size(self) -> int:
        """Number of pairs."""
        return int(self.place.size)

    @property
    def log_ends(self) -> Floats:
        """Log age at the end of each life, in order of place, construction, life."""
        return self._log_end

    def every(self, step: int) -> Pairs:
        """Return the pairs of every so many places."""
        return self.where(self.place % step == 0)

    def where(self, keep: NDArray[np.bool_]) -> Pairs:
        """Return some of the pairs, as a copy."""
        number = np.cumsum(keep) - 1
        sizes = np.diff(np.append(self._end_start, self._log_end.size))
        lives, old = np.repeat(keep, sizes), keep[self._entry_pair]
        start = np.cumsum(sizes[keep]) - sizes[keep]
        return Pairs(
            self.place[keep], self.construction[keep], self.n_failures[keep],
            self.sum_log_age[keep], self._log_end[lives], self._end_count[lives], start,
            self._log_entry[old], self._entry_count[old], number[self._entry_pair[old]],
        )

    def between(self, which: slice) -> Pairs:
        """Return a run of pairs, without a copy."""
        low, high = which.start, which.stop
        ends = np.append(self._end_start, self._log_end.size)
        lives = slice(ends[low], ends[high])
        old = slice(*np.searchsorted(self._entry_pair, [low, high]))
        return Pairs(
            self.place[which], self.construction[which], self.n_failures[which],
            self.sum_log_age[which], self._log_end[lives], self._end_count[lives],
            self._end_start[which] - ends[low], self._log_entry[old], self._entry_count[old],
            self._entry_pair[old] - low,
        )

    def moments(self, shape: Floats, n: int) -> list[Floats]:
        """Return the exposure of each pair and its first derivatives' sums.

        Parameters
        ----------
        shape : ndarray, shape (n_constructions,)
        n : int
            Highest power of log age.

        Returns
        -------
        list of ndarray, shape (n_pairs,)
            Sum over lives of x**k exp(shape x) at the end of the life less the same at entry,
            x = log age, k = 0..n.
        """
        power = shape[self.construction]
        sizes = np.diff(np.append(self._end_start, self._log_end.size))
        end = np.exp(np.repeat(power, sizes) * self._log_end) * self._end_count
        entry = np.exp(power[self._entry_pair] * self._log_entry) * self._entry_count
        found = []
        for _ in range(n + 1):
            total = np.add.reduceat(end, self._end_start) - np.bincount(
                self._entry_pair, weights=entry, minlength=self.size)
            found.append(np.asarray(total, np.float64))
            end, entry = end * self._log_end, entry * self._log_entry
        return found


def gather(data: VibrationData, log_age: Floats) -> Pairs:
    """Gather lives by place and construction.

    Parameters
    ----------
    data : VibrationData
        At least one life; `failure` as it stands is taken for known.
    log_age : ndarray, shape (n_lives,)
        Log of the age at the end of each life.

    Returns
    -------
    Pairs
    """
    key = data.place * data.n_constructions + data.construction
    order = np.argsort(key, kind="stable")
    keys, start = np.unique(key[order], return_index=True)
    number = np.repeat(np.arange(keys.size), np.diff(np.append(start, key.size)))
    events = (data.count * data.failure)[order]
    old = data.entry[order] > 0.0
    return Pairs(
        keys // data.n_constructions, keys % data.n_constructions,
        np.bincount(number, weights=events, minlength=keys.size).astype(np.float64),
        np.bincount(number, weights=events * log_age[order],
                    minlength=keys.size).astype(np.float64),
        log_age[order], data.count[order], start.astype(np.int64),
        np.log(data.entry[order][old]), data.count[order][old], number[old],
    )


def first_log_age(data: VibrationData) -> Floats:
    """Return log ages with every hose found failed in the middle of its interval."""
    found = np.isfinite(data.high)
    end = np.where(found, 0.5 * (data.low + np.where(found, data.high, 0.0)), data.low)
    return np.asarray(np.log(np.maximum(end, LEAST_DAYS)), np.float64)
