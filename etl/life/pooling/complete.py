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
        self._exposure = IntervalExposure(data)
        self._log_middle = np.log(data.interval_middle)
        self._own_column = (self._interval_rivals == data.interval_stratum[:, None]).argmax(axis=1)
        at = np.linspace(0.0, 1.0, N_STEPS + 1)
        width = data.interval_high - data.interval_low
        with np.errstate(divide="ignore"):
            self._log_steps = np.log(data.interval_low[:, None] + width[:, None] * at)

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
        log_age = np.log(data.masked_age)
        self._share(count, total, self._masked_rivals, log_age, log_shape, log_life)
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
        log_age = np.log(data.masked_age)
        stratum = self._draw_cause(self._masked_rivals, log_age, log_shape, log_life, rng)
        self._add(count, total, stratum, log_age)
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

    def _draw_cause(
        self, rivals: Ints, log_age: Floats, log_shape: Floats, log_life: Floats,
        rng: np.random.Generator,
    ) -> Ints:
        if rivals.shape[0] == 0:
            return np.zeros(0, np.int64)
        share = _cause_shares(rivals, log_age, log_shape, log_life)
        return _pick(rivals, share, rng)

    def _draw_intervals(
        self, log_shape: Floats, log_life: Floats, rng: np.random.Generator
    ) -> tuple[Floats, Ints]:
        """Draw age and mechanism of interval failures from their joint law.

        The step first, by the chance that all mechanisms together leave to it; the mechanism then,
        by its share of the hazard gained there.
        """
        data = self._data
        hazard = self._interval_hazards(log_shape, log_life)
        passed = hazard.sum(axis=1)
        gain = np.diff(passed, axis=1)
        alive = np.exp(-np.minimum(passed - passed[:, :1], GREATEST_EXPONENT))
        weight = alive[:, :-1] - alive[:, 1:]
        known = np.flatnonzero(data.interval_stratum >= 0)
        own = np.diff(hazard[known, self._own_column[known]], axis=1)
        weight[known] *= np.divide(own, gain[known], out=np.zeros_like(own), where=gain[known] > 0)
        # Where the present law says "impossible", any step will do.
        weight[weight.sum(axis=1) <= 0.0] = 1.0
        step = _pick(np.broadcast_to(np.arange(N_STEPS), weight.shape), weight, rng)
        cause = data.interval_stratum.copy()
        unknown = np.flatnonzero(cause < 0)
        cause[unknown] = self._causes_within(hazard, unknown, step[unknown], rng)
        inside = (step + rng.random(step.size)) / N_STEPS
        width = data.interval_high - data.interval_low
        return np.log(data.interval_low + width * np.maximum(inside, 1e-9)), cause

    def _interval_hazards(self, log_shape: Floats, log_life: Floats) -> Floats:
        """Return the cumulative hazard of each rival at the steps of each interval."""
        safe = np.maximum(self._interval_rivals, 0)
        power = self._log_steps[:, None, :] - log_life[safe][:, :, None]
        power *= np.exp(log_shape)[safe][:, :, None]
        hazard = np.exp(np.minimum(power, GREATEST_EXPONENT, out=power), out=power)
        hazard[self._interval_rivals < 0] = 0.0
        return hazard

    def _causes_within(
        self, hazard: Floats, row: Ints, step: Ints, rng: np.random.Generator
    ) -> Ints:
        """Draw the mechanism of failures that are known to lie in one step of their interval."""
        rivals = self._interval_rivals[row]
        gain = hazard[row, :, step + 1] - hazard[row, :, step]
        gain = np.where(gain.sum(axis=1, keepdims=True) > 0.0, gain, rivals >= 0)
        return _pick(rivals, gain, rng)


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


def _pick(options: Ints, weight: Floats, rng: np.random.Generator) -> Ints:
    """Pick one option of each row in proportion to its weight."""
    summed = np.cumsum(weight, axis=1)
    at = rng.random(weight.shape[0]) * summed[:, -1]
    column = np.minimum((summed <= at[:, None]).sum(axis=1), weight.shape[1] - 1)
    return np.asarray(options[np.arange(column.size), column])
