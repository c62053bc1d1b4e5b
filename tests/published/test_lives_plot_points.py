"""Rank positions, product-limit estimates and rank regression; ids name the source."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.life.plotting import median_rank, plot_points, rank_regression
from tests.published.lives_data import published


def points_of(name, group=None):
    lives = published(name)
    if group:
        lives = lives.only(lives.group == group)
    return plot_points(*lives.one_by_one().arguments())


@pytest.mark.parametrize(("name", "shape", "life", "tolerance"), [
    pytest.param("abernethy_rivets", 2.024, 94.998, 2.5e-4,
                 id="Abernethy, New Weibull Handbook Fig. 2-5, as quoted by a public test module"),
    pytest.param("shock_absorber", 1 / 0.3632, np.exp(10.2596), 1.5e-4,
                 id="weibulltools vignette Part II, rank regression"),
    pytest.param("abernethy_fatigue", 3.415951, 204.93602, 1e-6,
                 id="computed here on AFWAL-TR-83-2079 p. 35"),
])
def test_regression_of_age_on_position(name, shape, life, tolerance):
    line = rank_regression(points_of(name), 1)
    assert_allclose([line.shape_x_on_y[0], line.characteristic_life_x_on_y[0]], [shape, life],
                    rtol=tolerance)


@pytest.mark.parametrize(("name", "shape", "life", "tolerance"), [
    pytest.param("throttle", 1.13, 7.470, (5e-3, 8e-4),
                 id="Murthy, Xie and Jiang 2004, Table 16.10, Model 1"),
    pytest.param("shock_absorber", 2.72617, 28720.4505, (1e-6, 1e-8),
                 id="computed here on Meeker and Escobar p. 630"),
])
def test_regression_of_position_on_age(name, shape, life, tolerance):
    line = rank_regression(points_of(name), 1)
    assert_allclose(line.shape_y_on_x[0], shape, rtol=tolerance[0])
    assert_allclose(line.characteristic_life_y_on_x[0], life, rtol=tolerance[1])


def test_adjusted_ranks_and_positions_weibulltools_part_one():
    points = points_of("shock_absorber")
    assert points.adjusted_rank[1] == pytest.approx(2.09, abs=6e-3)
    assert_allclose(points.failure_probability[:2], [0.0182, 0.0465], atol=6e-5)


def test_adjusted_ranks_computed_here_on_the_rivets():
    assert_allclose(points_of("abernethy_rivets").adjusted_rank,
                    [1.125, 2.4375, 3.75, 5.0625, 6.375], rtol=1e-12)


def test_product_limit_nist_8_2_1_5():
    points = points_of("nist_8215")
    expected = {10: 19 / 20, 32: 19 / 20 * 18 / 19, 56: 0.847059, 98: 0.794118, 122: 0.737395,
                181: 0.670359}  # the last four computed here
    for age, value in expected.items():
        assert points.survival[points.age == age][0] == pytest.approx(value, abs=6e-7)


@pytest.mark.parametrize(("age", "value", "error"), [
    (6, 0.857, 0.076), (7, 0.807, 0.087), (10, 0.753, 0.096), (13, 0.690, 0.107),
    (16, 0.627, 0.114), (22, 0.538, 0.128), (23, 0.448, 0.135)],
    ids=lambda value: f"NAG g12aac {value}")
def test_product_limit_and_greenwood_match_nag(age, value, error):
    groups = set(published("remission_6mp").group)
    treated = next(group for group in groups if "placebo" not in group)
    points = points_of("remission_6mp", treated)
    at = points.age == age
    assert points.survival[at][0] == pytest.approx(value, abs=6e-4)
    assert points.survival_error[at][0] == pytest.approx(error, abs=6e-4)


def test_median_ranks_of_ten_from_memory():
    """Standard table of median ranks, n = 10 (from memory)."""
    assert_allclose(median_rank([1, 2, 5, 10], 10), [0.0670, 0.1623, 0.4517, 0.9330], atol=6e-5)


@pytest.mark.parametrize(("n_lives", "rank", "position", "tolerance"), [
    pytest.param(11, 1, 0.0614, 1e-4, id="weibulltools vignette Part I, failures only"),
    pytest.param(10, 1, 0.0673077, 1e-7, id="computed here, Benard, 1 of 10"),
    pytest.param(10, 2, 0.1634615, 1e-7, id="computed here, Benard, 2 of 10"),
    pytest.param(10, 5, 0.4519231, 1e-7, id="computed here, Benard, 5 of 10"),
    pytest.param(10, 10, 0.9326923, 1e-7, id="computed here, Benard, 10 of 10"),
])
def test_positions_of_complete_lives(n_lives, rank, position, tolerance):
    ages = np.arange(1.0, n_lives + 1.0)
    points = plot_points(np.zeros(n_lives, int), 0.0, ages, ages, 1.0, 1)
    assert points.failure_probability[rank - 1] == pytest.approx(position, abs=tolerance)
