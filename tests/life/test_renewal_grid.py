"""Renewals on a grid: fine enough, right in every moment, additive."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate

from etl.life import renewal_hazards
from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH, PlaceForecast, forecast_places
from etl.life.renewal_grid import expected_failures, late_share, renewal_function, steps_of


def forecast(cell: CellLaw, age: np.ndarray, rate: np.ndarray) -> PlaceForecast:
    (block,) = forecast_places(cell, np.arange(age.size), age, rate.astype(np.float32))
    return block


def random_cell(rng: np.random.Generator) -> tuple[CellLaw, np.ndarray, np.ndarray]:
    """Return a cell with one to three mechanisms, 40 places and their rates in 12 draws."""
    n = int(rng.integers(1, 4))
    shape = np.exp(rng.normal(0.7, 0.45, n) + rng.normal(0, 0.15, (12, n)))
    life = rng.normal(6.8, 0.8, n) + rng.normal(0, 0.3, (12, n))
    age = np.r_[0.0, 0.0, rng.uniform(0, 2500, 38)]
    return (CellLaw(shape.astype(np.float32), life.astype(np.float32)), age,
            rng.gamma(4, 1 / 4, (40, 12)))


@pytest.mark.parametrize("seed", range(12))
def test_steps_are_fine_enough_for_half_a_percent(seed, monkeypatch):
    cell, age, rate = random_cell(np.random.default_rng(seed))
    coarse = forecast(cell, age, rate)
    monkeypatch.setattr(renewal_hazards, "STEPS_A_MONTH", (32,))
    fine = forecast(cell, age, rate)
    months = [0, 2, 5, 11]
    assert_allclose(
        coarse.expected[..., months].mean(1), fine.expected[..., months].mean(1), rtol=5e-3
    )
    assert_allclose(coarse.variance[..., -1].mean(1), fine.variance[..., -1].mean(1), rtol=0.06)


def test_first_year_of_a_new_hose_agrees_with_the_renewal_equation_by_quadrature():
    """Second way: iterate M = F + integral of M(t - s) f(s) ds on dense nodes."""
    shape, life = 2.4, 260.0
    t = np.linspace(0.0, 365.25, 1201)
    density = shape / life * (t / life) ** (shape - 1) * np.exp(-((t / life) ** shape))
    failed = -np.expm1(-((t / life) ** shape))
    renewals = failed.copy()
    for _ in range(12):  # each round adds one more generation of hoses
        again = [integrate.simpson(renewals[i::-1] * density[: i + 1], x=t[: i + 1])
                 if i else 0.0 for i in range(t.size)]
        renewals = failed + np.array(again)
    cell = CellLaw(np.array([[shape]], np.float32), np.log([[life]]).astype(np.float32))
    found = forecast(cell, np.zeros(1), np.ones((1, 1))).expected[0, 0]
    assert_allclose(found, np.interp(np.arange(1, 13) * DAYS_A_MONTH, t, renewals), rtol=3e-3)


def test_variances_agree_with_simulated_histories():
    rng = np.random.default_rng(4)
    shape, life, age, n = 3.0, 220.0, 150.0, 60_000
    left = life * ((age / life) ** shape + rng.exponential(size=n)) ** (1 / shape) - age
    clock, counts = left, np.zeros((n, 12))
    while np.any(clock < 12 * DAYS_A_MONTH):
        month = (clock / DAYS_A_MONTH).astype(int)
        inside = np.flatnonzero(month < 12)
        np.add.at(counts, (inside, month[inside]), 1)
        clock = clock + life * rng.weibull(shape, n)
    cell = CellLaw(np.array([[shape]], np.float32), np.log([[life]]).astype(np.float32))
    found = forecast(cell, np.array([age]), np.ones((1, 1)))
    assert_allclose(found.month_variance[0, 0], counts.var(axis=0), rtol=0.04)
    assert_allclose(found.variance[0, 0], counts.cumsum(axis=1).var(axis=0), rtol=0.05)


def test_a_hose_that_cannot_outlive_the_first_step_is_replaced_at_once():
    new = np.linspace(0.0, 1.2, 25)[:, None, None] ** 2
    doomed = np.minimum(np.arange(25) * 1e4, 80.0)[:, None, None]
    renewals = renewal_function(steps_of(new))
    found = expected_failures(steps_of(doomed), renewals)
    assert_allclose(found[1:], 1.0 + renewals[1:], rtol=2e-3)


def test_failures_lie_within_a_step_as_a_constant_hazard_places_them():
    hazard = np.geomspace(0.01, 80.0, 4001)
    wanted = 1.0 / hazard - 1.0 / np.expm1(hazard)
    assert_allclose(late_share(hazard.astype(np.float32)), wanted, rtol=3e-6)
    assert late_share(np.zeros((0, 3), np.float32)).shape == (0, 3)


def test_steady_hazard_renews_in_proportion_to_time():
    hazard = np.linspace(0.0, 3.0, 49)[:, None, None]
    assert_allclose(renewal_function(steps_of(hazard))[:, 0, 0], hazard[1:, 0, 0], rtol=2e-4)


def test_no_hazard_means_no_failures():
    none = np.zeros((9, 2, 3), np.float32)
    assert not expected_failures(steps_of(none), renewal_function(steps_of(none))).any()
