"""Hoses taken out unfailed compete with failures: against closed forms and simulated histories."""

import numpy as np
from numpy.testing import assert_allclose

from etl.life import renewal_hazards
from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH, PlaceForecast, forecast_places

YEAR = 12 * DAYS_A_MONTH


def forecast(law, age, rate=1.0) -> PlaceForecast:
    ages = np.atleast_1d(np.asarray(age, float))
    (block,) = forecast_places(law, np.arange(ages.size), ages,
                               np.full((ages.size, 1), rate, np.float32))
    return block


def law(shape, life, removal=None):
    return CellLaw(np.array([[shape]], np.float32), np.log([[life]]).astype(np.float32),
                   removal=removal)


def test_constant_hazards_fail_at_their_own_rate_whatever_else_ends_them():
    """Poisson streams: failures at the rate of the place, removals beside them."""
    found = forecast(law(1.0, 400.0, (1.0, float(np.log(300.0)))), [0.0, 700.0], rate=2.0)
    months = np.arange(1, 13) * DAYS_A_MONTH
    for place in range(2):
        assert_allclose(found.expected[place, 0], 2.0 * months / 400.0, rtol=3e-3)
        assert_allclose(found.changes[place, 0], months * (2.0 / 400.0 + 1.0 / 300.0), rtol=3e-3)
        assert_allclose(found.variance[place, 0], 2.0 * months / 400.0, rtol=0.02)
    both = 2.0 / 400.0 + 1.0 / 300.0
    share = (2.0 / 400.0) / both
    assert_allclose(found.chance_90_days[:, 0], share * -np.expm1(-90.0 * both), rtol=1e-4)
    assert_allclose(found.chance_12_months[:, 0], share * -np.expm1(-months[-1] * both), rtol=1e-3)


def test_removals_that_never_come_change_nothing():
    plain = forecast(law(2.5, 500.0), [0.0, 200.0, 800.0])
    rare = forecast(law(2.5, 500.0, (1.0, 30.0)), [0.0, 200.0, 800.0])
    for name in ("expected", "variance", "month_variance", "chance_90_days", "chance_12_months",
                 "changes"):
        assert_allclose(getattr(rare, name), getattr(plain, name), rtol=1e-4, atol=1e-6)
    assert_allclose(plain.changes, plain.expected)


def simulated(rng, n, age, fails, removed):
    """Return failures and changes of each of n histories within a year."""
    (shape, life), (b, m) = fails, removed

    def ends(start, size):
        failing = life * ((start / life) ** shape + rng.exponential(size=size)) ** (1 / shape)
        leaving = m * ((start / m) ** b + rng.exponential(size=size)) ** (1 / b)
        return np.minimum(failing, leaving) - start, failing < leaving

    failed, changed = np.zeros(n), np.zeros(n)
    left, is_failure = ends(age, n)
    at = left
    while (inside := at <= YEAR).any():
        changed += inside
        failed += inside & is_failure
        left, is_failure = ends(0.0, n)
        at = np.where(inside, at + left, np.inf)
    return failed, changed


def test_wear_out_and_planned_changes_agree_with_simulated_histories(monkeypatch):
    # coarser steps blur changes this regular: they overstate the variance, never the mean
    monkeypatch.setattr(renewal_hazards, "STEPS_A_MONTH", (8,))
    rng = np.random.default_rng(6)
    fails, removed, n = (2.8, 260.0), (6.0, 210.0), 200_000
    for age in (0.0, 120.0, 190.0):
        failed, changed = simulated(rng, n, age, fails, removed)
        found = forecast(law(*fails, (removed[0], float(np.log(removed[1])))), age)
        for given, mean, variance in (
                (failed, found.expected, found.variance),
                (changed, found.changes, found.changes_variance)):
            error = 4.0 * given.std() / np.sqrt(n)
            assert_allclose(mean[0, 0, -1], given.mean(), atol=error + 0.004 * given.mean())
            assert_allclose(variance[0, 0, -1], given.var(), rtol=0.04)
        assert found.expected[0, 0, -1] < 0.75 * forecast(law(*fails), age).expected[0, 0, -1]
