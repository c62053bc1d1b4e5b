"""How many of a part to hold."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.decide.spares.law import demand_law
from etl.decide.spares.need import (
    DAYS_A_MONTH,
    demand_at,
    lead_time_slices,
    service_level,
)
from etl.decide.spares.stock import (
    budget_quantiles,
    days_covered,
    demand_over,
    level_with_stand_in,
    order_quantity,
    shelf_cap,
    shortage_before_delivery,
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
    law = demand_over(table, table, np.array([2 * DAYS_A_MONTH]))
    found = stock_advice(law, level)
    assert found.stock_level == stats.poisson(2 * monthly).ppf(level)
    assert found.reorder_point == found.stock_level - 1
    assert law.mean == pytest.approx(2 * monthly)
    assert found.level_met == pytest.approx(stats.poisson(2 * monthly).cdf(found.stock_level))


def test_an_uncertain_lead_time_asks_for_more_stock():
    table = 3.0 * np.arange(1.0, 13.0)[None, :]
    sure = demand_over(table, table, *lead_time_slices(90, 0))
    unsure = demand_over(table, table, *lead_time_slices(90, 60))
    assert unsure.level(0.99) > sure.level(0.99)
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
    assert found.least == (level == 0.99)
    assert words in found.reason


@pytest.mark.parametrize(("level", "position", "minimum", "order"),
                         [(5, 5, 1, 0), (5, 9, 1, 0), (5, 2, 1, 3), (5, 4, 6, 6), (0, 0, 3, 0)])
def test_order_quantity(level, position, minimum, order):
    assert order_quantity(level, position, minimum) == order


def poisson(mean):
    return demand_law(np.array([mean]), np.array([mean]), np.ones(1))


def test_one_is_kept_where_nobody_can_wait_whatever_the_demand():
    rare = poisson(0.005)
    assert stock_advice(rare, 0.99).stock_level == 0
    assert stock_advice(rare, 0.99, least=1).stock_level == 1
    assert stock_advice(rare, 0.99, least=1, most=0).stock_level == 1


@pytest.mark.parametrize("mean", [0.05, 0.3, 2.0, 9.0])
def test_shelf_life_holds_no_more_than_is_likely_used_up(mean):
    cap = shelf_cap(poisson(mean))
    assert stats.poisson(mean).cdf(cap - 1) <= 0.10
    assert stats.poisson(mean).cdf(cap) > 0.10
    assert stock_advice(poisson(mean), 0.99, most=cap).stock_level == cap


def test_shortage_before_delivery_is_the_worst_of_its_moments():
    table = 2.0 * np.arange(1.0, 13.0)[None, :]
    month = DAYS_A_MONTH
    args = (np.array([3 * month]), np.ones(1))
    # Two a month: before the delivery at one month 2 are expected, over three months 6.
    none_coming = shortage_before_delivery(table, table, 4, [], *args)
    late = shortage_before_delivery(table, table, 1, [(month, 20)], *args)
    after = shortage_before_delivery(table, table, 4, [(5 * month, 20)], *args)
    assert none_coming == pytest.approx(stats.poisson(6.0).sf(4))
    assert late == pytest.approx(stats.poisson(2.0).sf(1))
    assert after == pytest.approx(none_coming)


def test_planned_days_stand_beside_a_count_and_do_not_shorten_its_upper_end():
    chance = 2.0 / (2.0 * DAYS_A_MONTH)  # a day: 2 within two months
    plain = chance * DAYS_A_MONTH * np.arange(1.0, 13.0)[None, :]
    certain = np.array([10.0, 20.0, 40.0])
    mean = plain + np.array([2, *[3] * 11])
    span = np.array([2 * DAYS_A_MONTH])
    law = demand_over(mean, plain, span, certain=certain)
    truth = stats.poisson(2.0, loc=3)
    assert_allclose(law.cumulative, truth.cdf(np.arange(law.cumulative.size)), atol=1e-9)
    assert law.mean == pytest.approx(5.0)
    assert law.level(0.95) == truth.ppf(0.95) == 8
    # One count of both would promise more than it keeps.
    assert truth.cdf(demand_over(mean, plain, span).level(0.95)) < 0.95
    # By day 15 one is due, and what fails by then scatters.
    early = demand_over(mean, plain, np.array([15.0]), certain=certain)
    assert_allclose(early.cumulative[:4], stats.poisson(chance * 15, loc=1).cdf(np.arange(4)),
                    atol=1e-9)


def test_a_planned_day_late_in_the_table_is_not_repeated_beyond_it():
    plain = np.arange(1.0, 13.0)[None, :]
    far = np.array([24 * DAYS_A_MONTH])
    law = demand_over(plain + np.r_[np.zeros(11), 1.0], plain, far, certain=np.array([360.0]))
    assert law.mean == pytest.approx(25.0)
    assert demand_over(plain, plain, far).mean == pytest.approx(24.0)


def test_days_covered_end_where_poisson_demand_passes_what_is_there():
    table = 2.0 * np.arange(1.0, 13.0)[None, :]
    month = DAYS_A_MONTH
    days = days_covered(table, table, 5, [], 0.95)  # two a month
    assert stats.poisson(2.0 * days / month).cdf(5) >= 0.95
    assert stats.poisson(2.0 * (days + 1.5) / month).cdf(5) < 0.95
    # A delivery in time carries on from there, one that comes after the end does not.
    assert days_covered(table, table, 5, [(month, 100)], 0.95) == np.inf
    assert days_covered(table, table, 5, [(9 * month, 100)], 0.95) == pytest.approx(days, abs=1)
    assert days_covered(table, table, 0, [], 0.95) < 1.0


def test_a_stand_in_lowers_the_stock_only_by_what_it_can_spare():
    own, other = poisson(3.0), poisson(2.0)
    rng = np.random.default_rng(20261031)
    mine, theirs = rng.poisson(3.0, 400_000), rng.poisson(2.0, 400_000)
    for held in (0, 2, 5, 8):
        found = level_with_stand_in(own, 0.95, other, held)
        met = [np.mean(mine <= s + np.maximum(held - theirs, 0)) for s in (found, found - 1)]
        assert met[0] >= 0.948
        assert found == 0 or met[1] < 0.952
    assert level_with_stand_in(own, 0.95, other, 0) == own.level(0.95)


def test_budget_quantiles_are_of_the_sum_and_not_a_sum_of_quantiles():
    rng = np.random.default_rng(5)
    parts = rng.gamma(20.0, 5.0, (12, 300))
    whole = budget_quantiles(parts.sum(axis=0), parts.sum(axis=0), [0.5, 0.9])
    single = [budget_quantiles(part, part, [0.9])[0] for part in parts]
    assert whole[1] < sum(single)
    draws = rng.normal(parts.sum(axis=0), np.sqrt(parts.sum(axis=0)), (4000, 300))
    assert whole == pytest.approx(np.quantile(draws, [0.5, 0.9]), rel=2e-3)
