"""Ranges of single months: failures of one month make those of the next rarer or commoner."""

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

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
