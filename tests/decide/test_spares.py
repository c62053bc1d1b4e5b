"""How many of a part to hold."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.decide.spares import (
    DAYS_A_MONTH,
    demand_at,
    lead_time_slices,
    order_quantity,
    service_level,
    stock_advice,
)

LEVELS = {"ordinary": 0.9, "costly": 0.95, "hazardous": 0.99, "costly_from": 500.0}


@pytest.mark.parametrize(("mean", "sd"), [(60.0, 21.0), (10.0, 30.0), (200.0, 1.0)])
def test_lead_time_slices_keep_the_mean_and_lie_in_their_slice(mean, sd):
    days, weights = lead_time_slices(mean, sd)
    assert_allclose(days @ weights, mean, rtol=1e-9)
    assert_allclose(weights.sum(), 1.0)
    law = stats.gamma((mean / sd) ** 2, scale=sd**2 / mean)
    edges = law.ppf([0, 0.15, 0.35, 0.55, 0.75, 0.88, 0.95, 0.98, 0.995, 1])
    assert np.all((days >= edges[:-1]) & (days <= edges[1:]))


@pytest.mark.parametrize(("mean", "sd"), [(30.0, 0.0), (0.0, 5.0)])
def test_lead_time_without_spread_is_one_slice(mean, sd):
    days, weights = lead_time_slices(mean, sd)
    assert days.tolist() == [mean]
    assert weights.tolist() == [1.0]


def test_demand_at_interpolates_and_goes_on_at_the_last_rate():
    table = np.array([[1.0, 3.0, 4.0]])
    at = np.array([0.0, 0.5, 1.0, 1.5, 3.0, 5.0]) * DAYS_A_MONTH
    assert_allclose(demand_at(table, at), [[0.0, 0.5, 1.0, 2.0, 4.0, 6.0]])


# Newsvendor with Poisson demand: the smallest stock whose Poisson probability reaches the level,
# against scipy.stats.poisson.
@pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("monthly", [0.02, 0.4, 3.0, 25.0])
def test_stock_advice_with_known_rate_and_lead_time_is_the_poisson_quantile(level, monthly):
    table = monthly * np.arange(1.0, 13.0)[None, :].repeat(5, axis=0)
    found = stock_advice(
        table, table, np.array([DAYS_A_MONTH]), np.array([1.0]),
        review_days=DAYS_A_MONTH, level=level,
    )
    assert found.stock_level == stats.poisson(2 * monthly).ppf(level)
    assert found.reorder_point == found.stock_level - 1
    assert found.mean == pytest.approx(2 * monthly)


def test_an_uncertain_lead_time_asks_for_more_stock():
    table = 3.0 * np.arange(1.0, 13.0)[None, :]
    sure = stock_advice(table, table, *lead_time_slices(90, 0), review_days=30, level=0.99)
    unsure = stock_advice(table, table, *lead_time_slices(90, 60), review_days=30, level=0.99)
    assert unsure.stock_level > sure.stock_level
    assert unsure.mean == pytest.approx(sure.mean, rel=1e-6)


@pytest.mark.parametrize(
    ("hazards", "cost", "level", "words"),
    [
        ((), np.nan, 0.9, "ordinary"),
        ((), 500.0, 0.95, "costly"),
        (("hot", "pressure"), 10.0, 0.9, "ordinary"),
        (("hot", "toxic"), 10.0, 0.99, "toxic"),
    ],
)
def test_service_level_is_set_by_hazard_then_downtime(hazards, cost, level, words):
    found = service_level(hazards, cost, **LEVELS)
    assert found.level == level
    assert words in found.reason


@pytest.mark.parametrize(("level", "position", "minimum", "order"),
                         [(5, 5, 1, 0), (5, 9, 1, 0), (5, 2, 1, 3), (5, 4, 6, 6), (0, 0, 3, 0)])
def test_order_quantity(level, position, minimum, order):
    assert order_quantity(level, position, minimum) == order
