"""Stock, demands served and amounts against published worked examples; the test id names them."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.decide.spares.law import demand_law
from etl.decide.spares.stock import budget_quantiles, stock_advice

ONE = np.ones(1)
BULBS = "University of Southampton edshare item 6744 (worked question and answer)"
LOSS = "PyPI package stockpyl, documentation of poisson_loss"
NEWSVENDOR = ("PyPI package stockpyl, documentation of newsvendor_normal, attributed there to "
              "Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed., Example 4.3")


def poisson(mean: float):
    return demand_law(np.array([mean]), np.array([mean]), ONE)


@pytest.mark.parametrize(("stock", "at_most"), [(5, 0.916), (4, 0.815)],
                         ids=lambda value: f"{BULBS}: {value:g}")
def test_chance_of_no_shortage(stock, at_most):
    assert_allclose(poisson(3.0).at_most(stock), at_most, atol=6e-4)


@pytest.mark.parametrize(("stock", "served"), [(5, 2.866)], ids=[BULBS])
def test_stock_for_a_level_and_demand_served(stock, served):
    found = stock_advice(poisson(3.0), 0.90)
    assert found.stock_level == stock
    assert_allclose(3.0 * found.share_served, served, atol=1e-3)


@pytest.mark.parametrize("short", [0.5176095282584724], ids=[LOSS])
def test_expected_shortage_of_a_poisson_demand(short):
    assert_allclose(15.0 * (1.0 - poisson(15.0).share_served(18)), short, atol=1e-9)


@pytest.mark.parametrize("stock", [56.60395592743389], ids=[NEWSVENDOR])
def test_quantile_of_a_normal_amount(stock):
    holding, shortage = 0.18, 0.70
    (found,) = budget_quantiles(np.array([50.0]), np.array([64.0]),
                                [shortage / (holding + shortage)])
    assert_allclose(found, stock, atol=1e-9)
