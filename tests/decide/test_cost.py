"""Cost of one failure at each service point."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.decide.cost import PRIOR_CHANGES, cap_outliers, change_cost

NAN = np.nan


def as_ints(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.int64)


def test_change_cost_draws_a_place_towards_its_class():
    cost = np.array([100.0, 100.0, 100.0, 400.0])
    found = change_cost(cost, as_ints(0, 0, 0, 1), as_ints(0, 0), np.array([NAN, NAN]))
    mean = 175.0
    assert_allclose(found.cost, [(300 + 3 * mean) / 6, (400 + 3 * mean) / 4])
    assert found.origin == ("recorded here", "recorded in class")


def test_change_cost_of_many_records_is_the_place_mean():
    cost = np.r_[np.full(3000, 50.0), np.full(3000, 90.0)]
    place = np.repeat(as_ints(0, 1), 3000)
    found = change_cost(cost, place, as_ints(0, 0), np.array([NAN, NAN]))
    assert_allclose(found.cost, [50.0, 90.0], rtol=1e-3)


def test_change_cost_falls_back_on_the_register_then_says_unknown():
    found = change_cost(
        np.array([10.0]), as_ints(0), as_ints(0, 1, 1), np.array([NAN, 700.0, NAN])
    )
    assert_allclose(found.cost, [10.0, 700.0, NAN])
    assert found.origin == ("recorded in class", "register", "unknown")


def test_change_cost_without_any_place_is_empty():
    none = np.zeros(0)
    found = change_cost(none, as_ints(), as_ints(), none)
    assert found.cost.size == 0


@pytest.mark.parametrize("giant", [1e4, 1e6, 1e9])
def test_one_giant_invoice_moves_the_cost_no_further_than_the_fence(giant):
    ordinary = np.linspace(80.0, 120.0, 41)
    cost = np.r_[ordinary, giant]
    place = np.r_[np.repeat(0, 41), 1].astype(np.int64)
    found = change_cost(cost, place, as_ints(0, 0), np.array([NAN, NAN]))
    assert found.cost[0] < 103
    assert found.cost[1] < 150


@pytest.mark.parametrize("n", range(9))
@pytest.mark.parametrize("register", [100.0, NAN])
def test_one_giant_invoice_never_rules_however_few_costs_stand_beside_it(n, register):
    if n == 0 and np.isnan(register):
        return  # nothing says that it is one
    cost = np.r_[100.0 + 5.0 * np.arange(n), 1e7]
    found = change_cost(cost, np.zeros(n + 1, np.int64), as_ints(0, 0), np.full(2, register))
    assert (found.cost >= 100.0).all()
    assert (found.cost <= 1000.0).all()


def test_few_costs_that_differ_within_reason_stay_as_they_are():
    cost = np.array([100.0, 250.0, 900.0])
    assert_allclose(cap_outliers(cost, as_ints(0, 0, 0), 1), cost)


def test_costs_that_are_mostly_alike_or_nothing_are_not_all_cut_to_that():
    mostly_none = np.r_[np.zeros(8), 500.0, 700.0]
    assert_allclose(cap_outliers(mostly_none, np.zeros(10, np.int64), 1), mostly_none)
    alike = np.r_[np.full(8, 50.0), 80.0, 1e6]
    assert_allclose(cap_outliers(alike, np.zeros(10, np.int64), 1), np.r_[alike[:9], 500.0])
    assert_allclose(cap_outliers(np.zeros(3), np.zeros(3, np.int64), 1), np.zeros(3))


def test_prior_weight_is_positive():
    assert PRIOR_CHANGES > 0
