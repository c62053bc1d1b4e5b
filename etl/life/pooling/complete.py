"""Fill in what was not observed: the mechanism of some failures, the age of others."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.pooling.data import GREATEST_EXPONENT, Completed, PoolingData
from etl.life.pooling.exposure import IntervalExposure
from etl.life.pooling.reader import CurveReader

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

N_STEPS = 10
"""Steps of an interval between which the age of a failure is drawn."""


class Completer:
    """Draws, or spreads, the unknowns given the present parameters.

    Parameters
    ----------
    data : PoolingData
    """

    def __init__(self, data: PoolingData) -> None:
        """List the strata that may have caused each unknown failure."""
        self._data = data
        rivals = data.rivals()
        self._masked_rivals = rivals[data.masked_cell]
        self._interval_rivals = rivals[data.interval_cell]
        self._log_masked = np.log(data.masked_age)
        self._log_middle = np.log(data.interval_middle)
        self._exposure = IntervalExposure(data)
        # rivals first, then failures: each rival is one run of memory
        self._masked_by_rival, self._interval_by_rival = (
            np.ascontiguousarray(table.T) for table in (self._masked_rivals, self._interval_rivals))
        at = np.linspace(0.0, 1.0, N_STEPS + 1)[:, None]
        width = data.interval_high - data.interval_low
        with np.errstate(divide="ignore"):
            self._log_steps = np.log(data.interval_low + width * at)

    def spread(self, log_shape: Floats, log_life: Floats) -> Completed:
        """Share each unknown failure among the mechanisms; intervals stand at their middle.

        Parameters
        ----------
        log_shape, log_life : ndarray, shape (n_strata,)

        Returns
        -------
        Completed
        """
        data = self._data
        count, total = data.n_exact.copy(), data.sum_log_age.copy()
        self._share(
            count, total, self._masked_rivals, self._log_masked, log_shape, log_life)
        known = data.interval_stratum >= 0
        self._add(count, total, data.interval_stratum[known], self._log_middle[known])
        self._share(
            count, total, self._interval_rivals[~known], self._log_middle[~known],
            log_shape, log_life,
        )
        return self._completed(count, total, data.reader)

    def draw(self, log_shape: Floats, log_life: Floats, rng: np.random.Generator) -> Completed:
        """Draw a mechanism and an age for every failure that lacks one.

        Parameters
        ----------
        log_shape, log_life : ndarray, shape (n_strata,)
        rng : Generator

        Returns
        -------
        Completed
        """
        data = self._data
        count, total = data.n_exact.copy(), data.sum_log_age.copy()
        if self._log_masked.size:
            self._add(count, total, self._draw_causes(log_shape, log_life, rng), self._log_masked)
        reader = data.reader
        if data.interval_cell.size:
            log_ages, causes = self._draw_intervals(log_shape, log_life, rng)
            self._add(count, total, causes, log_ages)
            reader = self._exposure.reader(log_ages)
        return self._completed(count, total, reader)

    def _completed(self, count: Floats, total: Floats, reader: CurveReader) -> Completed:
        return Completed(count, total - count * self._data.stratum_centre, reader)

    def _add(self, count: Floats, total: Floats, stratum: Ints, log_age: Floats) -> None:
        count += np.bincount(stratum, minlength=count.size)
        total += np.bincount(stratum, weights=log_age, minlength=count.size)

    def _share(
        self, count: Floats, total: Floats, rivals: Ints, log_age: Floats, log_shape: Floats,
        log_life: Floats,
    ) -> None:
        if rivals.size == 0:
            return
        share = _cause_shares(rivals, log_age, log_shape, log_life)
        kept = rivals >= 0
        count += np.bincount(rivals[kept], weights=share[kept], minlength=count.size)
        weighted = (share * log_age[:, None])[kept]
        total += np.bincount(rivals[kept], weights=weighted, minlength=count.size)

    def _draw_causes(self, log_shape: Floats, log_life: Floats, rng: np.random.Generator) -> Ints:
        """Draw the mechanism of failures at known ages, by its share of the hazard there."""
        rivals = self._masked_by_rival
        shape, life = _of_rivals(rivals, log_shape, log_life)
        log_hazard = self._log_masked - life
        log_hazard *= shape
        log_hazard += np.append(log_shape, 0.0).take(rivals, mode="wrap")
        log_hazard -= log_hazard.max(axis=0)
        return _picked(rivals, np.exp(log_hazard, out=log_hazard), rng)

    def _draw_intervals(
        self, log_shape: Floats, log_life: Floats, rng: np.random.Generator
    ) -> tuple[Floats, Ints]:
        """Draw age and mechanism of interval failures from their joint law.

        The step first, by the chance that all mechanisms together leave to it; the mechanism then,
        by its share of the hazard gained there.
        """
        data = self._data
        shape, life = _of_rivals(self._interval_by_rival, log_shape, log_life)
        passed = np.zeros_like(self._log_steps)
        for one, other in zip(shape, life, strict=True):
            passed += _hazard(self._log_steps, one, other)
        gain = passed[1:] - passed[:-1]
        alive = np.exp(-np.minimum(passed - passed[0], GREATEST_EXPONENT))
        weight = alive[:-1] - alive[1:]
        known = np.flatnonzero(data.interval_stratum >= 0)
        own = data.interval_stratum[known]
        hazard = _hazard(self._log_steps[:, known], np.exp(log_shape)[own], log_life[own])
        share, all_gain = hazard[1:] - hazard[:-1], gain[:, known]
        weight[:, known] *= np.divide(share, all_gain, out=np.zeros_like(share),
                                      where=all_gain > 0.0)
        # Where the present law says "impossible", any step will do.
        weight[:, weight.sum(axis=0) <= 0.0] = 1.0
        step = _drawn_row(weight, rng)
        cause = data.interval_stratum.copy()
        unknown = np.flatnonzero(cause < 0)
        cause[unknown] = self._causes_within(
            unknown, step[unknown], shape[:, unknown], life[:, unknown], rng)
        inside = (step + rng.random(step.size)) / N_STEPS
        width = data.interval_high - data.interval_low
        return np.log(data.interval_low + width * np.maximum(inside, 1e-9)), cause

    def _causes_within(
        self, row: Ints, step: Ints, shape: Floats, life: Floats, rng: np.random.Generator
    ) -> Ints:
        """Draw the mechanism of failures that are known to lie in one step of their interval."""
        rivals = self._interval_by_rival[:, row]
        gain = (_hazard(self._log_steps[step + 1, row], shape, life)
                - _hazard(self._log_steps[step, row], shape, life))
        gain = np.where(gain.sum(axis=0) > 0.0, gain, rivals >= 0)
        return _picked(rivals, gain, rng)


def _of_rivals(rivals: Ints, log_shape: Floats, log_life: Floats) -> tuple[Floats, Floats]:
    """Return shape and log life of each rival; where there is none, one that never comes."""
    shape, life = np.append(np.exp(log_shape), 1.0), np.append(log_life, np.inf)
    return shape.take(rivals, mode="wrap"), life.take(rivals, mode="wrap")


def _hazard(log_age: Floats, shape: Floats, log_life: Floats) -> Floats:
    """Return the cumulative hazard at ages."""
    power = log_age - log_life
    power *= shape
    return np.asarray(np.exp(np.minimum(power, GREATEST_EXPONENT, out=power), out=power))


def _cause_shares(
    rivals: Ints, log_age: Floats, log_shape: Floats, log_life: Floats
) -> Floats:
    """Return the share of each mechanism in the hazard at an age, one row a failure."""
    safe = np.maximum(rivals, 0)
    b = np.exp(log_shape)[safe]
    log_hazard = log_shape[safe] + b * (log_age[:, None] - log_life[safe])
    log_hazard = np.where(rivals >= 0, log_hazard, -np.inf)
    hazard = np.exp(log_hazard - log_hazard.max(axis=1, keepdims=True))
    return np.asarray(hazard / hazard.sum(axis=1, keepdims=True))


def _picked(options: Ints, weight: Floats, rng: np.random.Generator) -> Ints:
    """Pick one option of each column in proportion to its weight."""
    row = _drawn_row(weight, rng)
    return np.asarray(options[row, np.arange(row.size)])


def _drawn_row(weight: Floats, rng: np.random.Generator) -> Ints:
    """Draw a row of each column in proportion to its weight."""
    summed = np.array(weight, np.float64)
    for row in range(1, summed.shape[0]):  # numpy's own running sum walks across the memory
        summed[row] += summed[row - 1]
    at = rng.random(summed.shape[1]) * summed[-1]
    return np.asarray(np.minimum((summed <= at).sum(axis=0), summed.shape[0] - 1))
