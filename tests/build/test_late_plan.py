"""Planned work where logs come late, against hoses simulated one by one behind such a record."""

import dataclasses

import numpy as np
import pytest

from etl.build.due_table import make_plan
from etl.build.plan_effect import prevented_failures
from etl.build.planned_demand import PlannedDays, planned_demand
from etl.build.replacement_ages import Costs
from etl.build.statistics import LateRecords
from etl.build.track.laws import Present
from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH
from etl.life.reporting_delay import IN_TIME
from etl.settings import Settings
from tests.build.test_planned_work import N_DRAWS, register, statistics

SHARE = np.array([0.3, 0.6, 0.9, 1.0])
"""Of a month's removals on record within 0, 1, 2, 3 months."""
SHAPE, LIFE, HABIT = 3.0, 500.0, (1.5, 900.0)
REMOVAL = HABIT[0], float(np.log(HABIT[1]))
YEAR = 12 * DAYS_A_MONTH
N = 60_000
AGE, DUE, AGAIN = 420.0, 61.0, 9 * DAYS_A_MONTH


def new_hoses(rng, n):
    """Return the days until new hoses fail, and until habit takes them out."""
    return LIFE * rng.weibull(SHAPE, n), HABIT[1] * rng.weibull(HABIT[0], n)


@pytest.fixture(scope="module")
def truth():
    """Age, days to failure and to removal of the hoses really there, and which are on record.

    The record says of each place that a hose put in `AGE` days ago is in service.
    """
    rng = np.random.default_rng(11)
    failed, taken = new_hoses(rng, N)
    back = AGE - np.minimum(failed, taken)
    known = np.r_[SHARE, 1.0][np.clip(back // DAYS_A_MONTH, 0, 4).astype(int)]
    kept = (back <= 0.0) | (rng.random(N) >= known)
    back, failed, taken = (values[kept] for values in (back, failed, taken))
    on_record = back <= 0.0
    now, todo = np.where(on_record, AGE, back), ~on_record
    while todo.any():
        failed[todo], taken[todo] = new_hoses(rng, int(todo.sum()))
        todo &= np.minimum(failed, taken) <= now
        now[todo] -= np.minimum(failed, taken)[todo]
    return now, failed - now, taken - now, on_record


def future(truth, *, is_planned, has_habit=True):
    """Return failures and unfailed removals of a year, mean over places."""
    rng = np.random.default_rng(12)
    now, fails, taken, on_record = truth
    due = np.where(on_record, DUE, AGAIN - now) if is_planned else np.full(now.size, np.inf)
    again = AGAIN if is_planned else np.inf
    time, failed, unfailed = np.zeros(now.size), 0, 0
    while (time < YEAR).any():
        out = np.minimum(taken if has_habit else np.inf, due)
        inside = (time < YEAR) & (time + np.minimum(fails, out) <= YEAR)
        failed += (inside & (fails <= out)).sum()
        unfailed += (inside & (fails > out)).sum()
        time = time + np.minimum(fails, out)
        fails, taken = new_hoses(rng, now.size)
        due = np.full(now.size, again)
    return failed / now.size, unfailed / now.size


def known(share):
    """Return one kind with the law of the simulation, and the record as late as told."""
    found = statistics((SHAPE, 1.0), (LIFE, 800.0))
    return found if share.size == 1 else dataclasses.replace(
        found, late=LateRecords(share, found.lives))


def still_running(share):
    settings = Settings(required_interval_days=(f"drum: {AGE + DUE:g}",))
    plan = make_plan(known(share), register("drum"), np.array([0]), np.array([AGE]),
                     np.ones((1, N_DRAWS), np.float32),
                     Costs(np.full(1, 5.0), np.full(1, 9.0), ("register",)),
                     [REMOVAL, None], settings)
    assert plan.days.days.tolist() == [DUE]
    return float(plan.survival.mean())


def test_the_chance_to_find_the_hose_on_record_allows_for_removals_not_on_record(truth):
    _, fails, _, on_record = truth
    came = np.mean(on_record & (fails > DUE))
    assert still_running(SHARE) == pytest.approx(came, abs=0.01)
    assert still_running(IN_TIME) == pytest.approx(np.mean(fails[on_record] > DUE), abs=0.01)
    assert still_running(IN_TIME) - came > 0.05  # the record as it stands says too much


def used(share):
    found = known(share)
    (block,) = planned_demand(
        found.draws, found.strata, Present(np.array([0]), np.array([AGE])),
        np.ones((1, N_DRAWS), np.float32), PlannedDays(np.array([DUE]), np.array([AGAIN])),
        [REMOVAL, None], share)
    return block.expected[0, 0, -1]


def test_hoses_used_by_failure_or_plan_allow_for_hoses_changed_already(truth):
    came = sum(future(truth, is_planned=True, has_habit=False))
    assert used(SHARE) == pytest.approx(came, abs=0.015)
    assert used(IN_TIME) - came > 0.03


def prevented(share):
    law = CellLaw(np.full((1, 1), SHAPE, np.float32), np.full((1, 1), np.log(LIFE), np.float32),
                  removal=REMOVAL)
    return [float(values[0, 0, -1]) for values in prevented_failures(
        law, np.array([AGE]), np.ones((1, 1), np.float32), np.array([DUE]), AGAIN, share)]


def test_what_a_plan_prevents_allows_for_hoses_changed_already(truth):
    habit, planned = future(truth, is_planned=False), future(truth, is_planned=True)
    gone, added = prevented(SHARE)
    assert gone == pytest.approx(habit[0] - planned[0], abs=0.015)
    assert added == pytest.approx(planned[1] - habit[1], abs=0.015)
    assert prevented(IN_TIME)[0] - (habit[0] - planned[0]) > 0.03
