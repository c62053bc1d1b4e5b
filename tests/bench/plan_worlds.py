"""What plans made from pooled draws are worth in invented fleets whose laws are known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.decide.age_replacement import best_ages
from etl.life.cell_law import CellLaw
from etl.life.counts import count_probability
from etl.life.pooling.pool import PooledDraws, pool_strata
from etl.life.renewal import DAYS_A_MONTH, forecast_places
from tests.bench.bench_pooling import own_fit
from tests.bench.pooling_world import World, make_world, pooling_data

Floats = NDArray[np.float64]

N_CELLS, MOST_PLACES, N_STRATA = 40, 25, 200
YEAR = 12 * DAYS_A_MONTH
COST_RATIO = 8.0


def fleet(seed: int) -> tuple[World, PooledDraws]:
    """Return an invented fleet and the draws of its strata."""
    world = make_world(np.random.default_rng((9, seed)))
    return world, pool_strata(pooling_data(world), seed=seed)


def demand_covered(seed: int) -> NDArray[np.bool_]:
    """Tell for cells of one fleet whether next year's failures lie in their 90 % range.

    A range of whole numbers holds more than it says, so a count at an end belongs to the range
    with the chance that is left for it.
    """
    world, draws = fleet(seed)
    rng = np.random.default_rng((10, seed))
    cells = rng.permutation(world.n_cells)[:N_CELLS]
    covered = []
    for cell in cells:
        age = world.age[(world.cell == cell) & (world.cause < 0)][:MOST_PLACES]
        if not age.size:
            continue
        mine = np.flatnonzero(world.stratum_cell == cell)
        law = CellLaw(np.exp(draws.log_shape[:, mine]), draws.log_life[:, mine])
        mean = np.zeros(law.shape.shape[0])
        variance = np.zeros_like(mean)
        ones = np.ones((age.size, mean.size), np.float32)
        for block in forecast_places(law, np.arange(age.size), age, ones):
            mean += block.expected[..., -1].sum(axis=0)
            variance += block.variance[..., -1].sum(axis=0)
        count = failures_within_a_year(
            rng, age, np.exp(world.log_shape[mine]), np.exp(world.log_life[mine]))
        below, upto = (float(count_probability(at, mean, variance).mean()) if at >= 0 else 0.0
                       for at in (count - 1, count))
        covered.append(0.05 < below + rng.random() * (upto - below) < 0.95)
    return np.array(covered)


def failures_within_a_year(
    rng: np.random.Generator, age: Floats, shape: Floats, life: Floats
) -> int:
    """Return the failures of places and of the hoses that follow, one simulated year."""
    left = (life * ((age[:, None] / life) ** shape + rng.exponential(size=(age.size, life.size)))
            ** (1 / shape) - age[:, None]).min(axis=1)
    count = 0
    while np.any(left <= YEAR):
        left = left[left <= YEAR]
        count += left.size
        left = left + (life * rng.weibull(shape, (left.size, life.size))).min(axis=1)
    return count


def replacements(seed: int) -> Floats:
    """Return what set ages are worth for strata of one fleet, shape (5, n).

    Rows: failures; said chance that the age saves; whether it does; cost above the least by that
    age; the same by the fit alone (NaN without one).
    """
    world, draws = fleet(seed)
    fit = own_fit(world)
    few = np.flatnonzero((world.n_failures >= 1) & (world.n_failures <= 2))
    order = np.random.default_rng((11, seed)).permutation(world.log_shape.size)
    chosen = np.unique(np.concatenate([few[:N_STRATA], order[:N_STRATA]]))
    rows = []
    for k in chosen:
        truth = CostRates(np.exp(world.log_shape[k]), np.exp(world.log_life[k]))
        pooled = best(np.exp(draws.log_shape[:, k:k + 1]), draws.log_life[:, k:k + 1])
        alone = np.nan
        if fit.has_estimate[k]:
            alone = truth(best(fit.shape[k].reshape(1, 1),
                               np.log(fit.characteristic_life[k]).reshape(1, 1))[0])
        cost = truth(pooled[0])
        rows.append((world.n_failures[k], pooled[1], cost < truth(np.inf) * (1 - 1e-9),
                     cost / truth.least - 1.0, alone / truth.least - 1.0))
    return np.array(rows, float).T


def best(shape: NDArray[np.floating], log_life: NDArray[np.floating]) -> tuple[float, float]:
    """Return the age of least mean cost (infinite: never) and the said chance that it saves."""
    law = CellLaw(shape.astype(np.float32), log_life.astype(np.float32))
    found = best_ages(law, np.ones((1, shape.shape[0]), np.float32), np.ones(1),
                      np.full(1, COST_RATIO))
    if not (np.isfinite(found.age[0]) and found.saving[0] > 0.0):
        return np.inf, np.nan
    return float(found.age[0]), float(found.chance[0])


class CostRates:
    """Cost a day of replacing at an age, under a known Weibull law."""

    def __init__(self, shape: float, life: float) -> None:
        self.age = life * np.geomspace(1e-4, 60.0 ** max(1.0, 1.0 / shape), 4001)
        self.alive = np.exp(-((self.age / life) ** shape))
        step = 0.5 * (self.alive[1:] + self.alive[:-1]) * np.diff(self.age)
        self.area = self.age[0] + np.r_[0.0, np.cumsum(step)]
        self.cost = (self.alive + COST_RATIO * (1.0 - self.alive)) / self.area
        self.least = float(min(self.cost.min(), COST_RATIO / self.area[-1]))

    def __call__(self, age: float) -> float:
        """Return the cost of an age, infinite for never."""
        if np.isinf(age):
            return COST_RATIO / float(self.area[-1])
        return float(np.interp(age, self.age, self.cost))
