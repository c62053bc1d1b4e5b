"""What a plan prevents, against hoses simulated one by one; on the demo fleet it hangs together."""

import numpy as np
import pytest

from etl.build.plan_effect import prevented_failures
from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH
from tests.build.spoiled import copies, faulty

YEAR = 12 * DAYS_A_MONTH
SHAPE, LIFE, HABIT = 3.0, 500.0, (1.5, 900.0)


def weibull(rng, shape, scale, age, n):
    """Return the days until the end of hoses that have reached an age."""
    passed = (age / scale) ** shape
    return scale * (passed + rng.exponential(size=n)) ** (1.0 / shape) - age


def simulated(age, days, again, n=40_000):
    """Return mean failures and mean unfailed removals of a year, one hose after the other."""
    rng = np.random.default_rng(20261031)
    time, now = np.zeros(n), np.full(n, float(age))
    limit = np.full(n, days)
    failed = unfailed = 0
    while (time < YEAR).any():
        fails = weibull(rng, SHAPE, LIFE, now, n)
        out = np.minimum(weibull(rng, *HABIT, now, n), limit)
        first = np.minimum(fails, out)
        inside = (time < YEAR) & (time + first <= YEAR)
        failed += (inside & (fails <= out)).sum()
        unfailed += (inside & (fails > out)).sum()
        time, now, limit = time + first, np.zeros(n), np.full(n, again)
    return failed / n, unfailed / n


@pytest.mark.parametrize(("age", "days", "again"), [
    (400.0, 0.0, 430.0), (350.0, 47.0, 9999.0), (100.0, 200.0, 243.5)])
def test_prevented_failures_and_added_changes_are_those_of_simulated_hoses(age, days, again):
    law = CellLaw(np.full((1, 1), SHAPE, np.float32), np.full((1, 1), np.log(LIFE), np.float32),
                  removal=(HABIT[0], float(np.log(HABIT[1]))))
    prevented, added = prevented_failures(
        law, np.array([age]), np.ones((1, 1), np.float32), np.array([days]), again)
    habit, planned = simulated(age, np.inf, np.inf), simulated(age, days, again)
    assert prevented[0, 0, -1] == pytest.approx(habit[0] - planned[0], abs=0.02)
    assert added[0, 0, -1] == pytest.approx(planned[1] - habit[1], abs=0.02)
    assert prevented[0, 0, -1] > 0.05


def test_a_plan_for_lives_without_wear_prevents_nothing():
    law = CellLaw(np.ones((1, 1), np.float32), np.full((1, 1), 6.0, np.float32))
    prevented, added = prevented_failures(
        law, np.array([300.0]), np.ones((1, 1), np.float32), np.array([60.0]), 9999.0)
    assert abs(prevented[0, 0, -1]) < 0.01
    assert added[0, 0, -1] > 0.8


def test_the_effect_of_the_demo_plan_adds_up_over_sites_and_grows(edition):
    whole, sites, changes, due = edition.execute(
        """select sum(prevented) filter (where scope = 'fleet'),
            sum(prevented) filter (where scope = 'site'),
            max(n_planned) filter (where scope = 'fleet'), (select count(*) from due)
        from plan_effect where n_months = 12""").fetchone()
    assert whole == pytest.approx(sites)
    assert whole > 0
    assert abs(changes - due) <= 1


@pytest.mark.parametrize("change", [
    "update results.plan_effect set prevented = 2 * failures_without_plan + 1",
    "update results.plan_effect set prevented = 0 where n_months = 12",
    "update results.plan_effect set n_planned = 0"])
def test_a_wrong_effect_is_found(edition_file, change):
    with copies(edition_file, ("plan_effect",)) as con:
        assert not faulty(con, "plan_effect")
        con.execute(change)
        assert faulty(con, "plan_effect")
