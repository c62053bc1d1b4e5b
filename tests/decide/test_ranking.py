"""Service points in order of expected cost."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from etl.decide.ranking import rank_places


def draws(seed: int, n_places: int, n_draws: int = 400) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.gamma(2.0, rng.uniform(0.1, 2.0, n_places)[:, None], (n_places, n_draws)).astype(
        np.float32
    )


def test_rank_places_orders_by_mean_cost():
    failures = np.array([[1.0] * 20, [3.0] * 20, [2.0] * 20], np.float32)
    found = rank_places(failures, np.array([10.0, 1.0, 2.0]))
    assert found.rank.tolist() == [1, 3, 2]
    assert_allclose(found.cost, [10.0, 3.0, 4.0])
    assert_allclose(found.lower, found.upper)


def test_rank_places_agrees_with_a_slow_second_way():
    failures, price = draws(3, 30), np.linspace(1.0, 3.0, 30)
    found = rank_places(failures, price)
    costs = failures * price[:, None]
    counted = np.zeros(30)
    for column in costs.T:
        counted[np.argsort(-column)[:10]] += 1
    assert_allclose(found.worst_ten_probability, counted / costs.shape[1])
    assert_allclose(found.worst_ten_probability.sum(), 10.0)


def test_rank_places_keeps_an_unknown_cost_unknown():
    found = rank_places(draws(5, 3), np.array([100.0, np.nan, 300.0]))
    assert np.isnan(found.cost[1])
    assert np.isnan(found.lower[1])
    assert sorted(found.rank.tolist()) == [1, 2, 3]


def test_rank_places_of_an_empty_fleet_is_empty():
    found = rank_places(np.zeros((0, 50), np.float32), np.zeros(0))
    assert found.rank.size == 0
    assert found.worst_ten_probability.size == 0


def test_places_with_equal_draws_are_tied():
    failures = np.random.default_rng(1).gamma(3.0, 1.0, (4, 400)).astype(np.float32)
    failures[3] /= 100
    found = rank_places(failures, np.ones(4))
    assert found.is_tied_with_first.tolist() == [True, True, True, False]


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 40), st.integers(0, 10_000), st.floats(1e-3, 1e3))
def test_a_change_of_currency_changes_costs_alone(n_places, seed, factor):
    failures, price = draws(seed, n_places, 60), np.linspace(1.0, 2.0, n_places)
    one, other = rank_places(failures, price), rank_places(failures, price * factor)
    assert_allclose(other.cost, one.cost * factor, rtol=1e-5)
    assert_allclose(other.worst_ten_probability, one.worst_ten_probability, atol=0.05)
