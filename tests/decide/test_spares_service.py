"""Service that the advised stock achieves in simulated futures of places with known lives."""

import numpy as np
import pytest

from etl.decide.spares.need import lead_time_slices
from etl.decide.spares.stock import demand_over
from etl.life.cell_law import CellLaw
from etl.life.renewal import forecast_places

SHAPE, LIFE = 2.2, 900.0
LEAD, SPREAD, REVIEW = 90.0, 40.0, 30.0
N_FUTURES = 3000


def advised(ages):
    """Return cumulative mean and variance of demand of all places, the law known exactly."""
    law = CellLaw(np.full((1, 1), SHAPE, np.float32), np.full((1, 1), np.log(LIFE), np.float32))
    blocks = forecast_places(law, np.arange(ages.size), ages, np.ones((ages.size, 1), np.float32))
    mean, variance = np.zeros((1, 12)), np.zeros((1, 12))
    for block in blocks:
        mean += block.expected.sum(axis=0)
        variance += block.variance.sum(axis=0)
    return mean, variance


def futures(ages, rng):
    """Return the demand within review plus a random lead time, failure by failure."""
    span = REVIEW + rng.gamma((LEAD / SPREAD) ** 2, SPREAD**2 / LEAD, N_FUTURES)
    demand = np.zeros(N_FUTURES, int)
    for age in ages:
        # The present hose has lived to its age: the rest of a conditional Weibull life.
        passed = (age / LIFE) ** SHAPE + rng.exponential(size=N_FUTURES)
        clock = LIFE * passed ** (1.0 / SHAPE) - age
        while (running := clock <= span).any():
            demand += running
            clock = np.where(running, clock + LIFE * rng.weibull(SHAPE, N_FUTURES), np.inf)
    return demand


@pytest.mark.parametrize("n_places", [3, 20, 150])
@pytest.mark.parametrize("is_clustered", [False, True], ids=["ages spread", "ages alike"])
def test_the_stated_service_is_reached(n_places, is_clustered):
    rng = np.random.default_rng(n_places)
    ages = np.full(n_places, 700.0) if is_clustered else rng.uniform(0.0, 1200.0, n_places)
    days, weights = lead_time_slices(LEAD, SPREAD)
    law = demand_over(*advised(ages), days + REVIEW, weights)
    demand = futures(ages, rng)
    assert law.mean == pytest.approx(demand.mean(), rel=0.04)
    for level in (0.90, 0.95, 0.99):
        achieved = np.mean(demand <= law.level(level))
        assert achieved >= level - 0.012, level
        assert achieved == pytest.approx(law.at_most(law.level(level)), abs=0.02)


def test_the_mean_lead_time_alone_falls_short():
    rng = np.random.default_rng(9)
    ages = rng.uniform(0.0, 1200.0, 150)
    law = demand_over(*advised(ages), np.array([LEAD + REVIEW]))
    assert np.mean(futures(ages, rng) <= law.level(0.95)) < 0.90


def test_last_year_s_rate_falls_short_where_ages_are_alike():
    rng = np.random.default_rng(10)
    ages = np.full(40, 800.0)
    last_year = 40 * ((800.0 / LIFE) ** SHAPE - ((800.0 - 365.0) / LIFE) ** SHAPE)
    rate = last_year / 12.0 * np.arange(1.0, 13.0)[None, :]
    days, weights = lead_time_slices(LEAD, SPREAD)
    law = demand_over(rate, rate, days + REVIEW, weights)
    assert np.mean(futures(ages, rng) <= law.level(0.95)) < 0.90
