"""Ranges of single months: failures of one month make those of the next rarer or commoner."""

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

from etl.build import forecast_share
from etl.build.aside import working_aside
from etl.build.forecast import forecast_fleet
from etl.build.planned_demand import PlannedDays
from etl.life.renewal import DAYS_A_MONTH
from etl.settings import Settings
from tests.build.test_place_survival import N_DRAWS, found

N = 300
SHAPE, LIFE = 4.0, 400.0


def fleet(price):
    shape = np.tile([1.0, 1.0, SHAPE], (N_DRAWS, 1))
    life = np.tile([1e9, 1e9, LIFE], (N_DRAWS, 1))
    places = pd.DataFrame({
        "site": "S", "line": np.where(np.arange(N) < 100, "one", "two"), "application_class": "c",
        "construction": "k", "part_number": "P"})
    return forecast_fleet(
        found(shape, life), np.ones(N, int), np.full(N, 100.0), np.ones((N, N_DRAWS), np.float32),
        places, np.full(N, price), PlannedDays(np.full(N, np.inf), np.full(N, np.inf)),
        [None] * 2, Settings())


def simulated(n_sets):
    """Return failures of all places in each month, shape (n_sets, 12)."""
    rng = np.random.default_rng(6)
    left = LIFE * ((100.0 / LIFE) ** SHAPE + rng.exponential(size=(n_sets, N))) ** (1 / SHAPE)
    clock, counts = left - 100.0, np.zeros((n_sets, 12))
    while np.any(clock < 12 * DAYS_A_MONTH):
        month = (clock / DAYS_A_MONTH).astype(int)
        rows = np.nonzero(month < 12)
        np.add.at(counts, (rows[0], month[rows]), 1)
        clock = clock + LIFE * rng.weibull(SHAPE, clock.shape)
    return counts


def test_ranges_of_months_are_those_of_simulated_histories():
    frame = fleet(10.0).forecast
    counts = simulated(2000)
    whole = frame[frame["scope"] == "fleet"].sort_values("month")
    assert_allclose(whole["mean"], counts.mean(axis=0), rtol=0.02)
    low, high = np.quantile(counts, [0.05, 0.95], axis=0)
    assert_allclose(whole["lower"], low, atol=1.0)
    assert_allclose(whole["upper"], high, atol=1.0)
    wide = (whole["cost_upper"] - whole["cost_mean"]) / 10.0
    assert_allclose(wide, 1.645 * counts.std(axis=0), rtol=0.08)


def test_groups_of_places_add_up_and_free_failures_cost_nothing():
    frame = fleet(np.nan).forecast
    by_scope = frame.groupby(["scope", "month"])["mean"].sum().unstack()
    assert_allclose(by_scope.loc["line"], by_scope.loc["fleet"], rtol=1e-6)
    line = frame[frame["scope"] == "line"].groupby("scope_name")["mean"].sum()
    assert_allclose(line["S, one"] / line["S, two"], 0.5, rtol=1e-6)
    assert not frame["cost_mean"].any()


def test_hoses_of_a_part_scatter_as_all_months_together():
    counts = simulated(2000).cumsum(axis=1)
    law = fleet(10.0).by_part_unplanned
    assert_allclose(law.mean[0, 0], counts.mean(axis=0), rtol=0.02)
    assert_allclose(law.variance[0, 0], counts.var(axis=0), rtol=0.12)


def test_a_fleet_forecast_in_shares_by_two_processes_is_that_of_one(monkeypatch):
    monkeypatch.setattr(forecast_share, "LEAST_PLACES", 20)
    rng = np.random.default_rng(3)
    shape, life = np.full((N_DRAWS, 3), SHAPE), rng.normal(LIFE, 20.0, (N_DRAWS, 3))
    cell = rng.integers(-1, 2, N)
    places = pd.DataFrame({
        "site": "S", "line": rng.choice(["one", "two", "three"], N), "application_class": "c",
        "construction": "k", "part_number": rng.choice(["P", "Q"], N)})
    near = np.where(rng.random(N) < 0.3, 100.0, np.inf)
    given = (found(shape, life), cell, rng.uniform(0.0, 300.0, N),
             rng.gamma(4.0, 0.25, (N, N_DRAWS)).astype(np.float32), places,
             rng.uniform(1.0, 9.0, N), PlannedDays(near, near + 200.0), [None] * 2, Settings())
    one = forecast_fleet(*given)
    with working_aside(is_large=True) as aside:
        two = forecast_fleet(*given, aside)
    for name, values in vars(one).items():
        other = getattr(two, name)
        if isinstance(values, pd.DataFrame):
            pd.testing.assert_frame_equal(values, other, check_exact=True)
        elif isinstance(values, np.ndarray):
            np.testing.assert_array_equal(values, other)
        else:
            assert values.names == other.names
            np.testing.assert_array_equal(values.mean, other.mean)
            np.testing.assert_array_equal(values.variance, other.variance)
    assert len(list(forecast_share.shares_of_cells(cell))) == 2
    monkeypatch.setattr(forecast_share, "LEAST_PLACES", N)
    whole = forecast_fleet(*given)
    assert_allclose(whole.forecast["mean"], one.forecast["mean"], rtol=1e-6)
    assert_allclose(whole.by_part.mean, one.by_part.mean, rtol=1e-6)
    assert_allclose(whole.mean, one.mean, rtol=1e-6)
    assert np.isnan(one.mean[cell < 0]).all()
