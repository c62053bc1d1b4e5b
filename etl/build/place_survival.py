"""Survival of hoses at each place: the law of its kind at the place's own rate of failing."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.statistics import LifeStatistics

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

N_AGES = 25
"""Points of a place's curve: enough for a figure a hand wide, few enough for every place."""
N_DRAWS = 50
"""Joint draws behind a range; its Monte Carlo error is below a line's width."""
LIVES_SHOWN = 4.0
"""Curves run to this many typical characteristic lives, where next to none still run, ..."""
FAR = 2.5
"""... but not beyond this many times the oldest life of the kind."""
CROWDING = 1.5
"""Above 1, ages lie closer together early, where a place that fails fast has its curve."""
GREATEST = 80.0
"""Cumulative hazard from which on survival is 0 in single precision."""


def place_survival(
    found: LifeStatistics, cell: Ints, rate: Singles, names: pd.Series[str], confidence: float
) -> pd.DataFrame:
    """Return survival by age at each place with a hose in service.

    Parameters
    ----------
    found : LifeStatistics
    cell : ndarray of int, shape (n_places,)
        Kind of the present hose; -1 where none is in service.
    rate : ndarray, shape (n_places, n_draws)
        Rate of failing against like places, in draws that go with those of the lives.
    names : Series, shape (n_places,)
    confidence : float
        Content of the range.

    Returns
    -------
    DataFrame
        service_point, age_days, survival, survival_lower, survival_upper.

    Notes
    -----
    Hazards in proportion: in each draw the kind's cumulative hazard times the place's rate. The
    range holds what is not known of the kind and of the place.
    """
    step = max(1, rate.shape[1] // N_DRAWS)
    drawn = rate[:, ::step]
    tail = 0.5 * (1.0 - confidence)
    oldest = np.ones(found.lives.n_cells)
    np.maximum.at(oldest, found.lives.cell, found.lives.end)
    parts = [pd.DataFrame({"service_point": pd.Series(dtype=str)} | {
        name: pd.Series(dtype=np.float64)
        for name in ("age_days", "survival", "survival_lower", "survival_upper")})]
    for number in np.unique(cell[cell >= 0]):
        mine = np.flatnonzero(cell == number)
        typical = float(np.median(found.life[:, number]))
        end = min(LIVES_SHOWN * typical, FAR * oldest[number])
        age = end * np.linspace(0.0, 1.0, N_AGES) ** CROWDING
        hazard = _hazard(found, int(number), age, step)
        alive = np.exp(-np.minimum(drawn[mine, None, :] * hazard, GREATEST))
        lower, middle, upper = _ranges(alive, tail)
        parts.append(pd.DataFrame({
            "service_point": np.repeat(names.to_numpy()[mine], N_AGES),
            "age_days": np.tile(age, mine.size), "survival": middle.ravel(),
            "survival_lower": lower.ravel(), "survival_upper": upper.ravel(),
        }))
    return pd.concat(parts, ignore_index=True)


def _hazard(found: LifeStatistics, number: int, age: Floats, step: int) -> Singles:
    """Return the cumulative hazard of a kind by age and draw, all mechanisms together."""
    own = np.flatnonzero(found.strata.cell == number)
    shape = np.exp(found.draws.log_shape[::step, own, None])
    log_age = np.log(np.maximum(age, 1e-9))
    power = shape * (log_age - found.draws.log_life[::step, own, None])
    total = np.exp(np.minimum(power, 50.0)).sum(axis=1)
    return np.asarray(total.T, np.float32)


def _ranges(draws: Singles, tail: float) -> tuple[Floats, Floats, Floats]:
    """Return lower bound, median and upper bound over the last axis, read between draws."""
    ordered = np.sort(draws, axis=-1)
    ends = []
    for share in (tail, 0.5, 1.0 - tail):
        at = share * (ordered.shape[-1] - 1)
        low = int(at)
        high = min(low + 1, ordered.shape[-1] - 1)
        ends.append(ordered[..., low] + (at - low) * (ordered[..., high] - ordered[..., low]))
    return ends[0], ends[1], ends[2]
