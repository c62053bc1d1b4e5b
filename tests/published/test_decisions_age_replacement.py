"""Age replacement against published worked examples; the test id names the source."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.decide.age_replacement import best_ages
from etl.decide.cost_rate import area_under, cost_rates, least_cost
from etl.life.cell_law import CellLaw

JARDINE_TSANG = (
    "Jardine and Tsang, Maintenance, Replacement, and Reliability, 2nd ed., solutions manual, "
    "chapter 2 problem 2"
)
DURRETT = "Durrett, Essentials of Stochastic Processes, renewal-reward car example (from memory)"
LIBRARY = "documentation of the library reliability, page Optimal replacement time"


def uniform_life(end: float, n_ages: int = 401) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return ages, survival and its integral of a life spread evenly over 0 .. end."""
    age = np.exp(np.linspace(np.log(end / 200.0), np.log(end), n_ages))
    alive = (1.0 - age / end)[:, None, None]
    start = np.full((1, 1), age[0] - age[0] ** 2 / (2.0 * end))
    return age, alive, area_under(alive, age, start)


@pytest.mark.parametrize(
    ("at", "printed"),
    [(10_000.0, 0.0143), (20_000.0, 0.01), (30_000.0, 0.0093), (40_000.0, 0.01)],
    ids=lambda value: f"{JARDINE_TSANG}: {value:g}",
)
def test_cost_rate_of_an_even_life(at, printed):
    age, alive, area = uniform_life(40_000.0)
    rates = cost_rates(alive, area, np.array([100.0]), np.array([200.0]))
    assert_allclose(np.interp(at, age, rates[:, 0, 0]), printed, atol=5e-5)


@pytest.mark.parametrize("printed", [8.83], ids=[DURRETT])
def test_best_age_of_an_even_life(printed):
    age, alive, area = uniform_life(10.0)
    found = least_cost(age, alive, area, np.full((1, 1), 5.0), np.array([10.0]), np.array([13.0]),
                       0.9)
    assert_allclose(found.age, printed, atol=0.005)


@pytest.mark.parametrize(("printed_age", "printed_cost"), [(493.19, 0.0035)], ids=[LIBRARY])
def test_best_age_of_a_weibull_life(printed_age, printed_cost):
    law = CellLaw(np.full((1, 1), 2.5, np.float32), np.full((1, 1), np.log(1000.0), np.float32))
    found = best_ages(law, np.ones((1, 1), np.float32), np.array([1.0]), np.array([5.0]))
    assert_allclose(found.age, printed_age, rtol=0.005)
    assert_allclose(found.cost / 365.25, printed_cost, atol=5e-5)
