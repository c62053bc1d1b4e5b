"""Records that come late: how late, what that hides, and forecasts that allow for it."""

import dataclasses

import duckdb
import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from etl.build.late_records import watched_lives
from etl.build.track.record import _share
from etl.build.track.view import AS_KNOWN, Origin
from etl.life.cell_law import CellLaw
from etl.life.late_forecasts import forecast_late, mixed
from etl.life.renewal import forecast_places
from etl.life.reporting_delay import (
    exposure_ages,
    late_chances,
    recorded_share,
    successor_age,
    watched_rows,
)
from etl.load.warehouse import run_sql
from tests.bench.delay_world import biases, forecasts, share_of, world

LATE = np.array([0.5, 0.8, 1.0])
ONE = np.ones((1, 1), np.float32)
LAW = CellLaw(np.full((1, 1), 2.0, np.float32), np.full((1, 1), np.log(900.0), np.float32))


def seen_delays(rng, n=60_000):
    """Return delays on record of failures of the last 24 months, and months watched."""
    delay = rng.geometric(0.4, n) - 1
    watched = rng.integers(0, 24, n)
    return delay[delay <= watched], watched[delay <= watched]


def test_recorded_share_is_that_of_geometric_delays_although_the_latest_are_not_seen():
    delay, watched = seen_delays(np.random.default_rng(1))
    truth = 1.0 - 0.6 ** np.arange(1, 13)
    share = recorded_share(delay, watched, most=12)
    assert_allclose(share[:6], truth[:6] / truth[-1], atol=0.01)
    naive = np.mean(delay[:, None] <= np.arange(6), axis=0)
    assert np.abs(naive - truth[:6]).max() > 0.02


def test_records_in_time_and_no_records_change_nothing():
    assert recorded_share(np.zeros(50, int), np.full(50, 5), most=12).tolist() == [1.0]
    assert recorded_share(np.zeros(0, int), np.zeros(0, int), most=12).tolist() == [1.0]


def test_time_in_service_counts_as_far_as_a_failure_would_be_on_record():
    age, weight = exposure_ages(np.array([100.0]), LATE)
    assert weight.tolist() == pytest.approx([0.5, 0.3, 0.2])
    assert age[0] == pytest.approx([100.0, 100.0 - 30.4375, 100.0 - 60.875])
    made = world(3, 500)
    cut = watched_lives(made.lives, made.present, LATE)
    assert (cut.low > cut.entry).all()
    gone = (made.lives.low * made.lives.count).sum() - (cut.low * cut.count).sum()
    old = made.present.age
    lost = 0.3 * np.minimum(30.4375, old) + 0.2 * np.minimum(60.875, old)
    assert gone == pytest.approx(lost.sum(), rel=1e-9)
    assert watched_lives(made.lives, made.present, np.ones(1)) is made.lives


def test_a_month_in_which_nothing_came_on_record_leaves_no_row_of_no_life():
    share = np.array([0.5, 0.5, 1.0])
    row, low, count = watched_rows(np.zeros(2), np.array([90.0, 70.0]), np.ones(2),
                                   np.array([True, False]), share)
    assert row.tolist() == [1, 0, 0]
    assert low.tolist() == [70.0, 90.0, 90.0 - 60.875]
    assert count.tolist() == [1.0, 0.5, 0.5]
    made = world(3, 500, habit_months=40.0)
    biased, _ = forecasts(made, is_corrected=True, share=share)  # fits refuse counts of 0
    assert (biased > 0.0).all()


def late_by_month(age):
    """Return the chances of each month of failing unseen, of still running, of `LATE` for `LAW`."""
    running = np.exp(-(np.maximum(age - 30.4375 * np.arange(3), 0.0) / 900.0) ** 2)
    return np.array([(running[1] - running[0]) * 0.5, (running[2] - running[1]) * 0.2]), running[0]


def test_chance_of_having_failed_unseen():
    late, running = late_by_month(400.0)
    gone, failed = late_chances(LAW, np.array([400.0]), ONE, LATE)
    assert_allclose(gone, late.sum() / (late.sum() + running), rtol=1e-4)
    assert failed is gone
    for chance in late_chances(LAW, np.array([400.0]), ONE, np.ones(1)):
        assert chance.tolist() == [[0.0]]
    assert_allclose(successor_age(np.array([400.0, 9.0]), LATE),
                    [30.4375 * (0.5 * 0.5 + 0.2 * 1.5) / 0.7, 9.0])


def test_chance_of_having_come_out_unseen_by_failure_or_habit():
    habit = dataclasses.replace(LAW, removal=(1.0, np.log(500.0)))
    rate = np.full((1, 1), 2.0, np.float32)
    age = 400.0 - 30.4375 * np.arange(3)
    failing, taken = 2.0 * (age / 900.0) ** 2, age / 500.0
    running = np.exp(-failing - taken)
    out = np.diff(running) * (1.0 - LATE[:2])
    share = np.diff(failing) / np.diff(failing + taken)
    whole = out.sum() + running[0]
    gone, failed = late_chances(habit, np.array([400.0]), rate, LATE)
    assert_allclose(gone, out.sum() / whole, rtol=1e-4)
    assert_allclose(failed, (out * share).sum() / whole, rtol=1e-4)
    steady = dataclasses.replace(habit, shape=np.ones((1, 1), np.float32))
    gone, failed = late_chances(steady, np.array([400.0]), rate, LATE)
    assert_allclose(failed / gone, (2.0 / 900.0) / (2.0 / 900.0 + 1.0 / 500.0), rtol=1e-4)


def test_one_successor_stands_for_those_of_every_month():
    age = 1100.0
    late, running = late_by_month(age)
    chance = np.r_[running, late] / (running + late.sum())
    each = [next(forecast_places(LAW, np.arange(1), np.array([at]), ONE)).expected[0, 0]
            for at in (age, 15.21875, 45.65625)]
    ((block, told),) = forecast_late(LAW, np.arange(1), np.array([age]), ONE, LATE)
    assert_allclose(told, late.sum() / (running + late.sum()), rtol=1e-3)
    assert_allclose(block.expected[0, 0], chance @ np.array(each), rtol=1e-3)


def test_many_places_of_a_cell_are_mixed_as_each_alone():
    rng = np.random.default_rng(4)
    age, rate = rng.uniform(0.0, 1500.0, 700), rng.gamma(4.0, 0.25, (700, 1)).astype(np.float32)
    mean = np.full((700, 12), np.nan)
    for block, _ in forecast_late(LAW, np.arange(700), age, rate, LATE):
        mean[block.places] = block.expected[:, 0]
    some = np.arange(0, 700, 35)
    for at in some:
        ((alone, _),) = forecast_late(LAW, np.array([at]), age[[at]], rate[[at]], LATE)
        assert_allclose(mean[at], alone.expected[0, 0], rtol=0.02, atol=1e-3)


def test_a_mixture_of_two_hoses_has_the_variance_of_both():
    old, new = (next(forecast_places(LAW, np.arange(1), np.array([age]), ONE))
                for age in (800.0, 10.0))
    both = mixed(old, new, np.full((1, 1), 0.75, np.float32))
    mean = 0.25 * old.expected + 0.75 * new.expected
    second = 0.25 * (old.variance + old.expected**2) + 0.75 * (new.variance + new.expected**2)
    assert_allclose(both.expected, mean, rtol=1e-5)
    assert_allclose(both.variance, second - mean**2, rtol=1e-4, atol=1e-6)
    assert_allclose(both.month_variance[..., 0], both.variance[..., 0], rtol=1e-4)


def test_forecasts_of_a_world_with_late_records_are_right_when_corrected_and_too_high_when_not():
    right = biases(range(2), 4000, is_corrected=True)
    wrong = biases(range(2), 4000, is_corrected=False)
    assert (np.abs(right) <= 0.05).all()
    assert (wrong[1:3] > 0.03).all()
    assert (wrong - right > 0.02).all()


@pytest.mark.parametrize("habit_months", [np.inf, 25.0])
def test_a_corrected_late_record_says_what_a_prompt_one_would(habit_months):
    known = {"is_corrected": True, "habit_months": habit_months}
    prompt = biases(range(2), 4000, mean_months=0.0, **known)
    assert (np.abs(biases(range(2), 4000, **known) - prompt) < 0.01).all()
    too_much = biases(range(2), 4000, share=share_of(world(0, 4000, 6.0)), **known)
    assert (too_much - prompt)[:2].max() < -0.02  # correcting for longer delays shows
    taken = biases(range(2), 4000, mean_months=0.0, share=share_of(world(0, 4000)), **known)
    assert (taken - prompt)[:2].max() < -0.02  # and so does correcting where nothing is late


def test_failures_not_on_record_yet_are_told():
    both = [world(seed, 4000) for seed in (5, 6)]
    told = sum(forecasts(made, is_corrected=True)[1] for made in both)
    assert told == pytest.approx(sum(made.n_missing for made in both), rel=0.15)
    in_time = world(5, 500, mean_months=0.0)
    assert forecasts(in_time, is_corrected=True)[1] == 0.0


def test_delays_are_counted_in_month_ends_and_only_as_far_as_known_then():
    with duckdb.connect() as con:
        con.execute("create schema clean; create schema fit")
        con.execute("""
            create table clean.replacements_cells as select * from (values
                (1, date '2024-05-10', null, false, 'a'), (2, date '2024-05-20', null, false, 'b'),
                (3, date '2024-05-31', null, false, 'c'), (1, date '2023-01-01', null, false, 'd'),
                (3, date '2024-05-10', null, false, 'a'))
                as t(load_id, removed_on, reasons, deleted, key_hash);
            create table fit.track_loads as select * from (values
                (1, date '2024-06-09'), (2, date '2024-06-30'), (3, date '2024-09-01'))
                as t(load_id, known_on)""")
        run_sql(con, "fit/track/15_track_delays", within_days=10,
                known_months=[pd.Timestamp("2024-05-31").date()])
        found = con.execute("select * from fit.track_delays order by all").df()
    number = 12 * 2024 + 5
    assert found.values.tolist() == [[number, 0, 1], [number, 1, 1], [number, 3, 1]]
    origin = Origin(pd.Timestamp("2024-07-31").date(), AS_KNOWN, ())
    assert _share(found, origin).tolist() == [0.5, 1.0]
    assert _share(found, dataclasses.replace(
        origin, on=pd.Timestamp("2024-05-31").date())).tolist() == [1.0]
