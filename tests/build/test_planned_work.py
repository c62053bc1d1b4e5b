"""Planned work: required intervals, the day of each change, hoses used, the frames published."""

import dataclasses
from datetime import date

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from etl.build.due_table import make_plan, planned_changes
from etl.build.edition import publish_results
from etl.build.lives import Lives
from etl.build.planned_demand import PlannedDays, planned_demand
from etl.build.replacement_ages import (
    Costs,
    cell_shapes,
    kind_ages,
    place_ages,
    required_intervals,
)
from etl.build.statistics import LifeStatistics
from etl.build.strata import Strata
from etl.build.track.laws import Present
from etl.decide.preventive import Verdict
from etl.life.pooling.pool import PooledDraws
from etl.settings import Settings
from tests.sql.tiny import AS_OF as TINY_AS_OF
from tests.sql.tiny import ONE_PLACE, build

AS_OF = date(2026, 10, 31)
DAYS_A_MONTH = 365.25 / 12
N_DRAWS = 40
NAN, INF = np.nan, np.inf


def statistics(shapes=(3.0, 1.0), lives=(1000.0, 800.0)):
    """Return two kinds with one known law each: the first wears out, the second does not."""
    fitted = Lives(
        cell=np.array([0, 0, 1]), entry=np.zeros(3), low=np.array([900.0, 700.0, 400.0]),
        high=np.array([900.0, INF, 400.0]), mechanism=np.array([0, -1, 0]),
        place=np.array([0, 0, 1]), count=np.ones(3), cell_class=np.array([0, 1]),
        cell_construction=np.array([0, 0]), classes=("drum", "loop"), constructions=("A",),
        mechanisms=("bend",), places=("P", "Q"))
    draws = PooledDraws(
        np.tile(np.log(np.array(shapes, np.float32)), (N_DRAWS, 1)),
        np.tile(np.log(np.array(lives, np.float32)), (N_DRAWS, 1)), np.ones(2), np.ones(2),
        np.eye(2))
    whole = np.exp(draws.log_life)
    strata = Strata(np.array([0, 1]), np.array([0, 0]), ("bend", "unknown"))
    return LifeStatistics(AS_OF, fitted, strata, draws, whole, whole, np.full((3, 4), NAN))


def register(*classes, hazards=None, sites=None):
    n = len(classes)
    return pd.DataFrame({
        "service_point": [f"P{at}" for at in range(n)], "application_class": classes,
        "hazards": hazards or [None] * n, "site": sites or ["North"] * n, "line": ["L"] * n,
        "part_number": ["X"] * n, "age_days": [300.0] * n, "labour_h": [2.0] * n,
        "is_in_trial": [False] * n,
    })


def plan_of(places, cell, age, settings, failure=5.0, planned=1.0):
    n = len(places)
    costs = Costs(np.full(n, failure), np.full(n, planned), ("register",) * n)
    rate = np.ones((n, N_DRAWS), np.float32)
    return make_plan(statistics(), places, np.array(cell), np.array(age, float), rate, costs,
                     [None, None], settings)


def test_the_shortest_rule_of_hazards_and_class_is_required():
    places = register("drum", "loop", "loop", hazards=[["hot", "toxic"], ["hot"], None])
    days, by = required_intervals(places, {"toxic": 730.0, "hot": 900.0, "loop": 800.0})
    assert days.tolist() == [730.0, 800.0, 800.0]
    assert by == ["toxic", "loop", "loop"]
    days, by = required_intervals(places, {"drum": 100.0})
    assert_allclose(days, [100.0, NAN, NAN])
    assert by == ["drum", "", ""]


def test_a_kind_that_wears_out_gets_an_age_and_one_that_does_not_gets_its_reason():
    places = register("drum", "loop")
    costs = Costs(np.array([5.0, 5.0]), np.array([1.0, 1.0]), ("register",) * 2)
    found = statistics()
    shapes = cell_shapes(found, 0.9)
    assert_allclose(shapes[1], [3.0, 1.0], rtol=1e-5)
    frame = kind_ages(found, places, np.array([0, 1]), costs, shapes, Settings())
    assert frame["verdict"].tolist() == ["pays", str(Verdict.NO_WEAR)]
    assert 300 < frame["preventive_age_days"][0] < 700
    assert frame["preventive_age_days"].isna().tolist() == [False, True]
    assert frame["n_failures"].tolist() == [1, 1]
    assert frame["n_suspensions"].tolist() == [1, 0]


def test_a_place_that_fails_faster_is_changed_earlier():
    places = register("drum", "drum")
    rate = np.array([[1.0], [4.0]], np.float32).repeat(N_DRAWS, axis=1)
    found = statistics()
    ages = place_ages(found, places, np.array([0, 0]), rate, Costs(
        np.full(2, 5.0), np.ones(2), ("register",) * 2), cell_shapes(found, 0.9), Settings())
    assert_allclose(ages.best.age[1] / ages.best.age[0], 4 ** (-1 / 3), rtol=0.02)


def test_unknown_planned_cost_means_no_age_and_says_so():
    plan = plan_of(register("drum"), [0], [300.0], Settings(), planned=NAN)
    assert plan.ages.verdict == [Verdict.NO_PLANNED_COST]
    assert planned_changes(plan, AS_OF) == [None]
    assert "cost of a planned change is not known" in plan.reasons[0]


def test_a_required_interval_rules_even_where_nothing_wears_out():
    settings = Settings(required_interval_days=("toxic: 365",))
    plan = plan_of(register("loop", hazards=[["toxic"]]), [1], [300.0], settings)
    change = planned_changes(plan, AS_OF)[0]
    assert change.is_required
    assert change.age_days == 365
    assert change.by == "4 Jan 2027"  # 65 days on
    assert "within 365 days (toxic)" in change.reason


def test_a_place_in_a_trial_is_planned_for_by_a_rule_of_the_site_alone():
    tried = register("drum", "drum", "drum", hazards=[None, None, ["toxic"]])
    tried["is_in_trial"] = [False, True, True]
    settings = Settings(required_interval_days=("toxic: 365",))
    plan = plan_of(tried, [0, 0, 0], [300.0] * 3, settings)
    assert plan.ages.verdict == [Verdict.PAYS, Verdict.IN_TRIAL, Verdict.IN_TRIAL]
    free, waiting, ruled = planned_changes(plan, AS_OF)
    assert free is not None
    assert waiting is None
    assert ruled.is_required
    assert "would cut short" in plan.reasons[1]


def test_hazardous_service_is_never_told_to_run_to_failure():
    plan = plan_of(register("loop", hazards=[["toxic"]]), [1], [300.0], Settings())
    assert "toxic service is not run to failure" in plan.reasons[0]


def test_shutdowns_are_a_sites_own_or_everybodys():
    settings = Settings(
        required_interval_days=("loop: 365",),
        shutdowns=("South: 2026-12-01 to 2026-12-04", "2026-12-14 to 2026-12-18",
                   "2027-06-01 to 2027-06-05"))
    places = register("loop", "loop", sites=["North", "South"])
    plan = plan_of(places, [1, 1], [300.0, 330.0], settings)
    days = [change.by for change in planned_changes(plan, AS_OF)]
    assert days == ["18 Dec 2026", "4 Dec 2026"]
    assert [item.site for item in plan.shutdown] == ["", "South"]


def test_a_place_without_a_hose_has_no_plan():
    settings = Settings(required_interval_days=("loop: 365",))
    plan = plan_of(register("loop"), [-1], [0.0], settings)
    assert planned_changes(plan, AS_OF) == [None]


def simulated(shape, life, age, due, again, rng, n=40_000):
    """Return hoses used within 12 months at one place, change on failure or on the planned day."""
    end = 12 * DAYS_A_MONTH
    power = (age / life) ** shape + rng.exponential(size=n)
    clock = np.minimum(life * power ** (1 / shape) - age, due)
    used = np.zeros(n)
    while (mine := clock <= end).any():
        used[mine] += 1
        clock[mine] += np.minimum(life * rng.weibull(shape, mine.sum()), again)
        clock[~mine] = INF
    return used


@pytest.mark.parametrize(
    ("age", "due", "again"),
    [(700.0, 20.0, 900.0), (300.0, 200.0, 900.0), (600.0, 360.0, 900.0), (50.0, 100.0, 150.0)],
)
def test_hoses_used_by_failure_or_plan_agree_with_simulated_futures(age, due, again):
    again = np.ceil(again / DAYS_A_MONTH) * DAYS_A_MONTH
    used = simulated(3.0, 1000.0, age, due, again, np.random.default_rng(4))
    planned = PlannedDays(np.array([due]), np.array([again]))
    found = statistics()
    block = next(iter(planned_demand(
        found.draws, found.strata, Present(np.array([0]), np.array([age])),
        np.ones((1, N_DRAWS), np.float32), planned)))
    assert_allclose(block.expected[0, :, -1].mean(), used.mean(), rtol=0.02, atol=0.01)
    assert_allclose(block.variance[0, :, -1].mean(), used.var(), rtol=0.1, atol=0.01)


def planned_changes_seen(shape, life, age, due, again, rng, n=40_000):
    """Return changes made as planned in each month of a year at one place, simulated."""
    power = (age / life) ** shape + rng.exponential(size=n)
    fails, clock, limit = life * power ** (1 / shape) - age, np.zeros(n), np.full(n, due)
    seen = np.zeros(12)
    while (clock < 12 * DAYS_A_MONTH).any():
        is_planned = fails >= limit
        clock += np.minimum(fails, limit)
        month = (clock[is_planned] / DAYS_A_MONTH).astype(int)
        seen += np.bincount(month[month < 12], minlength=12)
        fails, limit = life * rng.weibull(shape, n), np.full(n, again)
    return seen / n


@pytest.mark.parametrize(("age", "due", "again"), [
    (100.0, 79.0, 180.0), (150.0, 30.0, 180.0), (11.0, 79.0, 90.0), (300.0, 65.0, 365.0)])
def test_changes_of_hoses_put_in_meanwhile_are_planned_work_too(age, due, again):
    settings = Settings(required_interval_days=(f"loop: {again:g}",))
    plan = plan_of(register("loop"), [1], [again - due], settings)  # shape 1, 800 days
    # Months of the formula: an age is rounded up to them, as in the demand of parts.
    whole = DAYS_A_MONTH * np.ceil(again / DAYS_A_MONTH)
    seen = planned_changes_seen(1.0, 800.0, age, due, whole, np.random.default_rng(3))
    first = np.bincount([int(due / DAYS_A_MONTH)], plan.survival.mean(axis=1), minlength=12)
    assert_allclose(plan.later[0].sum(), (seen - first).sum(), atol=0.06)
    assert_allclose(np.cumsum(plan.later[0] + first), np.cumsum(seen), atol=0.35)  # half a month
    total = plan.expected_by(pd.Series(["X"]))["X"]
    assert_allclose(total, seen.sum(), atol=0.06)
    if again < 200.0:
        assert total > first.sum() + 0.5


def test_a_place_needs_one_hose_by_its_planned_day_for_certain():
    planned = PlannedDays(np.array([100.0, INF]), np.array([5000.0, INF]))
    found = statistics((3.0, 3.0), (1e5, 1e5))
    blocks = list(planned_demand(
        found.draws, found.strata, Present(np.array([0, 0]), np.array([100.0, 100.0])),
        np.ones((2, N_DRAWS), np.float32), planned))
    assert [block.places.tolist() for block in blocks] == [[0]]
    expected = blocks[0].expected[0, 0]
    assert_allclose(expected[:3], 0.0, atol=1e-4)
    assert_allclose(expected[4:], 1.0, atol=1e-4)
    assert_allclose(blocks[0].variance[0, 0, 4:], 0.0, atol=1e-3)


def test_planned_work_counts_each_hose_with_its_chance_of_reaching_its_day(demo_tables):
    due, work = demo_tables("due"), demo_tables("planned_work")
    whole = due[due["due_on"] < pd.Timestamp(2027, 11, 1)]
    by_month = whole.groupby("due_month")["still_running_probability"].sum()
    fleet = work[work["scope"] == "fleet"].set_index("month")["mean"]
    assert_allclose(fleet[by_month.index], by_month, rtol=1e-4)
    for scope in ("site", "application_class"):
        parts = work[work["scope"] == scope].groupby("month")["mean"].sum()
        assert_allclose(parts, fleet, rtol=1e-6, atol=1e-9)


def test_demo_ages_are_the_earlier_of_rule_and_cost_and_their_days_lie_ahead(demo_tables):
    ages = demo_tables("replacement_ages")
    assert (ages["planned_on"].dropna() > pd.Timestamp(AS_OF)).all()
    assert (ages["preventive_age_days"].notna() == (ages["verdict"] == "pays")).all()
    assert ages["preventive_age_days"].notna().sum() > 100
    assert ages["required_interval_days"].isna().all()  # the demo states no rule of its own
    due = demo_tables("due")
    assert due["due_on"].is_monotonic_increasing
    assert (due["n_failures"] > 0).all()


@pytest.fixture
def demo_tables(edition):
    return lambda table: edition.execute(f"select * from {table} order by all").df()


@pytest.mark.parametrize("logs", [
    {"service_points": "service_point,application_class"},
    {"service_points": ONE_PLACE},
    {"service_points": ONE_PLACE, "installations": "installed_on,service_point\n2024-01-01,P1"},
], ids=["no place", "no hose", "one hose"])
def test_a_tiny_fleet_has_a_plan_too(logs, tmp_path):
    settings = Settings(n_draws=20, required_interval_days=("steam: 400",),
                        shutdowns=("2025-01-10 to 2025-01-12",))
    con = build(**logs)
    publish_results(con, tmp_path, TINY_AS_OF, settings)
    due = con.execute("select service_point, method, due_on from results.due").fetchall()
    assert due == ([("P1", "required interval", date(2025, 2, 4))] if len(logs) == 2 else [])


def test_settings_reach_the_plan():
    places = register("drum")
    strict = dataclasses.replace(Settings(), preventive_chance=1.1)
    assert plan_of(places, [0], [300.0], strict).ages.verdict == [Verdict.UNSURE]
    dear = dataclasses.replace(Settings(), preventive_least_share=0.99)
    assert plan_of(places, [0], [300.0], dear).ages.verdict == [Verdict.SMALL]
