"""What a replacement age costs: the cost rate over a table of survival, and where it is least."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

DAYS_A_YEAR = 365.25
FLAT_SHARE = 0.9
"""Ages that keep this share of the greatest saving are as good for planning."""
LEAST_SAVING = 1e-4
"""Share of the cost below which a saving is none: the ages tried do not tell it from nothing."""


@dataclass(frozen=True)
class BestAges:
    """The cheapest replacement age of each place or kind, whether or not it pays.

    Attributes
    ----------
    age : ndarray, shape (n,), days
        NaN where a cost is unknown, or where no age tried costs less than never.
    flat_from, flat_to : ndarray, shape (n,), days
        Ages between which at least `FLAT_SHARE` of the saving remains; infinite where no age
        tried is too late.
    cost, cost_never : ndarray, shape (n,), reporting currency a year
        Expected cost with that age, and when hoses are changed only as they fail; means of draws.
    saving, saving_lower, saving_upper : ndarray, shape (n,), reporting currency a year
    chance : ndarray, shape (n,), 0..1
        Share of draws in which that age costs less than never.
    failing_before : ndarray, shape (n,), 0..1
        Share of new hoses expected to fail before that age all the same.
    """

    age: Floats
    flat_from: Floats
    flat_to: Floats
    cost: Floats
    cost_never: Floats
    saving: Floats
    saving_lower: Floats
    saving_upper: Floats
    chance: Floats
    failing_before: Floats

    @classmethod
    def unknown(cls, n: int) -> BestAges:
        """Return n ages of which nothing is known yet."""
        return cls(*(np.full(n, np.nan) for _ in fields(cls)))

    def in_units_of(self, days: Floats) -> BestAges:
        """Return them in days, where time was counted in units of so many, shape (n,)."""
        return replace(self, **{
            name: getattr(self, name) * days for name in ("age", "flat_from", "flat_to")}, **{
            name: getattr(self, name) / days for name in (
                "cost", "cost_never", "saving", "saving_lower", "saving_upper")})

    def put(self, at: Ints, part: BestAges) -> None:
        """Set some of the ages from others."""
        for field in fields(self):
            getattr(self, field.name)[at] = getattr(part, field.name)


def area_under(alive: Singles, age: Floats, start: Singles) -> Singles:
    """Return the integral of survival from age 0 to each of many ages evenly spaced by ratio.

    Parameters
    ----------
    alive : ndarray, shape (n_ages, ...)
    age : ndarray, shape (n_ages,), days
        At least four, each the same multiple of the one before.
    start : ndarray, shape (...), days
        Integral up to the first age.

    Returns
    -------
    ndarray, shape (n_ages, ...), days

    Notes
    -----
    Over log age, by the cubic through four neighbouring ages: a new age costs one survival.
    """
    height = np.log(age[-1] / age[0]) / (age.size - 1) / 24.0
    wide = (slice(None), *(None,) * (alive.ndim - 1))
    lifted = alive * (height * age).astype(alive.dtype)[wide]
    area = np.empty_like(alive)
    area[0] = start
    area[1] = start + (9.0 * lifted[0] + 19.0 * lifted[1] - 5.0 * lifted[2] + lifted[3])
    area[2:-1] = 13.0 * (lifted[1:-2] + lifted[2:-1]) - lifted[:-3] - lifted[3:]
    area[-1] = 9.0 * lifted[-1] + 19.0 * lifted[-2] - 5.0 * lifted[-3] + lifted[-4]
    for step in range(2, age.size):  # faster than a cumulative sum over the first axis
        area[step] += area[step - 1]
    return area


def cost_rates(alive: Singles, area: Singles, planned: Floats, failure: Floats) -> Singles:
    """Return the expected cost a day of changing hoses at each age, and earlier as they fail.

    Parameters
    ----------
    alive, area : ndarray, shape (n_ages, n, n_draws)
        Survival at each age and its integral up to there, days.
    planned, failure : ndarray, shape (n,), reporting currency

    Returns
    -------
    ndarray, shape (n_ages, n, n_draws)
    """
    rates = alive * (planned - failure).astype(alive.dtype)[:, None]
    rates += failure.astype(alive.dtype)[:, None]
    rates /= area
    return rates


def least_cost(
    age: Floats, alive: Singles, area: Singles, life: Singles, planned: Floats, failure: Floats,
    confidence: float,
) -> BestAges:
    """Choose the age of least mean cost rate from tables of survival.

    Parameters
    ----------
    age : ndarray, shape (n_ages,), days
        Evenly spaced by ratio.
    alive, area : ndarray, shape (n_ages, n, n_draws)
        Survival at each age and its integral up to there, days.
    life : ndarray, shape (n, n_draws), days
        Mean life.
    planned, failure : ndarray, shape (n,), reporting currency
    confidence : float

    Returns
    -------
    BestAges
        ``age`` is NaN where no age tried costs less than never, or where the best is the oldest.
    """
    rates = cost_rates(alive, area, planned, failure)
    never = failure.astype(alive.dtype)[:, None] / life
    mean = rates.mean(axis=2, dtype=np.float64)
    mean_never = never.mean(axis=1, dtype=np.float64)
    best = mean.argmin(axis=0)
    inner = np.clip(best, 1, age.size - 2)
    each = np.arange(planned.size)
    weight, shift = _parabola(mean[inner - 1, each], mean[inner, each], mean[inner + 1, each])
    near = np.stack([inner - 1, inner, inner + 1])
    at_best = np.einsum("kp,kpd->pd", weight, rates[near, each].astype(np.float64))
    surviving = np.einsum("kp,kpd->pd", weight, alive[near, each].astype(np.float64))
    saved = (never - at_best) * DAYS_A_YEAR
    tail = (1.0 - confidence) / 2.0
    lower, upper = np.quantile(saved, [tail, 1.0 - tail], axis=1)
    cost = at_best.mean(axis=1)
    pays = (best < age.size - 1) & (cost < (1.0 - LEAST_SAVING) * mean_never)
    step = np.log(age[1] / age[0])
    flat = _flat_region(mean, cost + (1.0 - FLAT_SHARE) * (mean_never - cost), inner, age)
    gap = np.where(pays, 0.0, np.nan)
    return BestAges(
        np.exp(np.log(age[inner]) + shift * step) + gap, flat[0] + gap, flat[1] + gap,
        cost * DAYS_A_YEAR, mean_never * DAYS_A_YEAR, saved.mean(axis=1), lower, upper,
        (saved > LEAST_SAVING * DAYS_A_YEAR * never).mean(axis=1), 1.0 - surviving.mean(axis=1),
    )


def _parabola(left: Floats, middle: Floats, right: Floats) -> tuple[Floats, Floats]:
    """Return the weights of three values at the lowest point between them, and where it lies."""
    bend = left - 2.0 * middle + right
    shift = np.clip(np.divide(0.5 * (left - right), bend, out=np.zeros_like(bend), where=bend > 0),
                    -1.0, 1.0)
    return np.stack(
        [0.5 * shift * (shift - 1.0), 1.0 - shift**2, 0.5 * shift * (shift + 1.0)]), shift


def _flat_region(mean: Floats, level: Floats, best: Ints, age: Floats) -> Floats:
    """Return the ages left and right of the best where the mean cost rate crosses a level."""
    n_ages, n = mean.shape
    row, each = np.arange(n_ages)[:, None], np.arange(n)
    above = mean > level
    left = np.where(above & (row < best), row, -1).max(axis=0)
    right = np.where(above & (row > best), row, n_ages).min(axis=0)
    log_age = np.log(age)
    step = log_age[1] - log_age[0]

    def crossing(low: Ints) -> Floats:
        """Interpolate between an age and the next."""
        low = np.clip(low, 0, n_ages - 2)
        from_, to = mean[low, each], mean[low + 1, each]
        share = np.divide(level - from_, to - from_, out=np.zeros(n), where=to != from_)
        return np.asarray(np.exp(log_age[low] + np.clip(share, 0.0, 1.0) * step))

    return np.stack([np.where(left >= 0, crossing(left), 0.0),
                     np.where(right < n_ages, crossing(right - 1), np.inf)])
