"""Forecast of a place: its present hose from its age on, then successors."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, special

from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH, PlaceForecast, forecast_places


def law(*shape_life: tuple[float, float], n_draws: int = 1) -> CellLaw:
    shape = np.array([[s for s, _ in shape_life]] * n_draws, np.float32)
    life = np.log(np.array([[c for _, c in shape_life]] * n_draws)).astype(np.float32)
    return CellLaw(shape, life)


def forecast(cell: CellLaw, age: list[float], rate: float = 1.0) -> PlaceForecast:
    ages = np.array(age)
    rates = np.full((ages.size, cell.shape.shape[0]), rate, np.float32)
    blocks = list(forecast_places(cell, np.arange(ages.size), ages, rates))
    assert len(blocks) == 1
    return blocks[0]


TABLE = "Tijms (2003) A First Course in Stochastic Models, Table 8.1.1 p. 312, Weibull, mean life 1"


# Renewal function of Weibull lives of mean 1: squared coefficient of variation, t, M(t).
@pytest.mark.parametrize(
    ("squared_variation", "t", "renewals", "tolerance"),
    [
        pytest.param(0.25, 0.2, 0.0261, 2e-4, id=f"{TABLE}, c2 0.25, t 0.2"),
        pytest.param(0.25, 0.4, 0.1087, 3e-4, id=f"{TABLE}, c2 0.25, t 0.4"),
        pytest.param(0.25, 0.6, 0.2422, 5e-4, id=f"{TABLE}, c2 0.25, t 0.6"),
        pytest.param(0.25, 1.0, 0.6091, 1e-3, id=f"{TABLE}, c2 0.25, t 1"),
        pytest.param(0.25, 1.5, 1.124, 2e-3, id=f"{TABLE}, c2 0.25, t 1.5"),
        pytest.param(0.25, 2.0, 1.627, 3e-3, id=f"{TABLE}, c2 0.25, t 2"),
        pytest.param(0.25, 2.5, 2.125, 4e-3, id=f"{TABLE}, c2 0.25, t 2.5"),
        pytest.param(2.0, 0.2, 0.3841, 4e-3, id=f"{TABLE}, c2 2, t 0.2"),
        pytest.param(2.0, 0.5, 0.7785, 6e-3, id=f"{TABLE}, c2 2, t 0.5"),
    ],
)
def test_a_new_hose_follows_the_published_renewal_function(
    squared_variation, t, renewals, tolerance
):
    shape = {0.25: 2.101349095, 2.0: 0.7209006}[squared_variation]
    mean = 365.25 / t  # twelve months are t mean lives
    cell = law((shape, mean / special.gamma(1 + 1 / shape)))
    assert_allclose(forecast(cell, [0.0]).expected[0, 0, -1], renewals, atol=tolerance)


def test_shape_of_the_second_published_law_has_its_coefficient_of_variation():
    shape = 0.7209006
    ratio = special.gamma(1 + 2 / shape) / special.gamma(1 + 1 / shape) ** 2 - 1
    assert_allclose(ratio, 2.0, rtol=1e-4)


@pytest.mark.parametrize("age", [0.0, 10.0, 4000.0])
@pytest.mark.parametrize("rate", [0.3, 1.0, 4.0])
def test_constant_hazard_gives_time_over_life_at_any_age(age, rate):
    life = 500.0
    found = forecast(law((1.0, life)), [age], rate)
    months = np.arange(1, 13) * DAYS_A_MONTH
    assert_allclose(found.expected[0, 0], rate * months / life, rtol=2e-3)
    assert_allclose(found.chance_12_months[0, 0], 1 - np.exp(-rate * months[-1] / life), rtol=1e-4)
    assert_allclose(found.chance_90_days[0, 0], 1 - np.exp(-rate * 90 / life), rtol=1e-4)


@pytest.mark.parametrize("age", [0.0, 200.0, 700.0, 1500.0])
def test_two_mechanisms_agree_with_simulated_histories(age):
    rng = np.random.default_rng(11)
    laws = ((1.4, 900.0), (3.0, 700.0))
    n = 40_000
    remaining = np.full(n, np.inf)
    for shape, life in laws:
        past = (age / life) ** shape
        remaining = np.minimum(
            remaining, life * (past + rng.exponential(size=n)) ** (1 / shape) - age
        )
    count, clock = np.zeros(n), remaining
    while np.any(clock <= 365.25):
        count += clock <= 365.25
        lives = np.minimum(*(life * rng.weibull(shape, n) for shape, life in laws))
        clock = np.where(clock <= 365.25, clock + lives, clock)
    found = forecast(law(*laws), [age])
    error = 4 * count.std() / np.sqrt(n)
    assert abs(found.expected[0, 0, -1] - count.mean()) < error + 2e-3 * count.mean()
    assert_allclose(found.variance[0, 0, -1], count.var(), rtol=0.06)


def test_first_failure_agrees_with_quadrature():
    shape, life, age = 2.5, 800.0, 500.0
    def density(t):
        return (shape / life * (t / life) ** (shape - 1)
                * np.exp((age / life) ** shape - (t / life) ** shape))
    exact, _ = integrate.quad(density, age, age + 365.25)
    assert_allclose(forecast(law((shape, life)), [age]).chance_12_months[0, 0], exact, rtol=1e-5)


def test_short_lives_are_stepped_finely_enough():
    found = forecast(law((3.0, 60.0)), [0.0])
    mean = 60.0 * special.gamma(4 / 3)
    squared = (special.gamma(5 / 3) / special.gamma(4 / 3) ** 2) - 1
    limit = 365.25 / mean + (squared - 1) / 2  # long-run line of the renewal function
    assert_allclose(found.expected[0, 0, -1], limit, rtol=5e-3)


def test_places_do_not_depend_on_their_neighbours_or_blocks():
    cell = law((2.0, 700.0), (1.2, 3000.0), n_draws=3)
    ages = np.linspace(0.0, 2000.0, 101)
    rates = np.random.default_rng(2).gamma(3.0, 1 / 3, (101, 3)).astype(np.float32)
    rates[:2] = rates[:, :].max()  # the step is chosen by the cell, so keep its extremes
    together = np.concatenate(
        [block.expected for block in forecast_places(cell, np.arange(101), ages, rates)]
    )
    order = np.r_[0:2, 100:1:-1]
    shuffled = np.concatenate(
        [block.expected for block in forecast_places(cell, order, ages[order], rates[order])]
    )
    assert_allclose(shuffled, together[order], rtol=1e-6)


def test_an_old_hose_that_must_fail_leaves_no_nan():
    found = forecast(law((8.0, 100.0)), [90_000.0], 9.0)
    assert np.isfinite(found.expected).all()
    assert found.chance_90_days[0, 0] == pytest.approx(1.0)
