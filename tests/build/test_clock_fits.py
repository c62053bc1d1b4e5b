"""Lives by the clocks of meters: which readings tell a life, and fits that are those of days."""

import datetime as dt

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

from etl.build.clock_fits import add_clock_fits
from etl.build.lives import read_lives
from etl.build.statistics import life_statistics
from etl.build.teardown_table import add_teardown_evidence
from etl.load.warehouse import run_layer, run_sql
from etl.settings import Settings
from tests.published.lives_data import published
from tests.sql.tiny import AS_OF, build, faulty, rows

BEGIN = dt.date(2020, 1, 1)
TABLES = ("clock_fits", "clock_curves", "clock_points")


def fitted(clocks=("run_hours",), **logs):
    """Return a database with the published tables of lives in days and by other clocks."""
    con = build(**logs)
    add_teardown_evidence(con)
    run_layer(con, "fit", as_of=AS_OF, confidence=0.9, early_failure_days=90)
    found = life_statistics(con, read_lives(con), AS_OF, Settings(n_draws=8))
    add_clock_fits(con, found, 0.9)
    for name in ("30_fits", *(f"39_{table}" for table in TABLES)):
        run_sql(con, f"results/{name}")
    for check in ("clock_fits_counts", "clock_fits_numbers"):
        assert faulty(con, check) == []
    assert rows(con, "select distinct clock from results.clock_fits order by 1") == [
        (clock,) for clock in clocks]
    return con


def logs_of(points, fitted_rows, out, usage):
    return {
        "service_points": "service_point,application_class,records_from\n" + "\n".join(points),
        "installations": "installed_on,service_point,hose_id,construction\n"
                         + "\n".join(fitted_rows),
        "replacements": "removed_on,service_point,hose_id,reason,mechanism,last_seen_good_on\n"
                        + "\n".join(out),
        "usage": "service_point,read_on,clock,reading\n" + "\n".join(usage),
    }


def test_a_published_example_told_by_meters_gives_its_published_fit():
    """NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: 10 failures, 10 unfailed
    at 500 h; shape 1.7208, characteristic life 606.5280. Days in service say nothing of it."""
    lives = published("nist_8413").one_by_one()
    points, inside, out, usage = [], [], [], []
    for number, (low, high) in enumerate(zip(lives.low, lives.high, strict=True)):
        name, ended = f"P{number:02}", BEGIN + dt.timedelta(days=30 + 7 * number)
        points.append(f"{name},stand,")
        inside.append(f"{BEGIN},{name},H{number},one")
        reason = "failed" if np.isfinite(high) else "planned"
        out.append(f"{ended},{name},H{number},{reason},,")
        usage += [f"{name},{BEGIN},run_hours,1000", f"{name},{ended},run_hours,{1000 + low}"]
    con = fitted(**logs_of(points, inside, out, usage))
    ((shape, life, b10, failed, unfailed, left),) = rows(con, """
        select shape, characteristic_life, b10, n_failures, n_suspensions, n_left_out
        from results.clock_fits where mechanism = 'all'""")
    assert (failed, unfailed, left) == (10, 10, 0)
    assert_allclose(shape, 1.7208, rtol=3e-5)
    assert_allclose(life, 606.5280, rtol=1e-6)
    assert_allclose(b10, life * (-np.log(0.9)) ** (1 / shape), rtol=1e-12)
    curve = con.execute("select * from results.clock_curves where mechanism = 'all'").df()
    assert_allclose(curve["survival"], np.exp(-((curve["age"] / life) ** shape)), rtol=1e-9)
    assert sorted(row[0] for row in rows(con, """select age from results.clock_points
        where mechanism = 'all'""")) == sorted(lives.low[np.isfinite(lives.high)])


def running_all_day(n_places=30, seed=5):
    """Return logs of places whose meter runs 24 hours a day and is read twice, at both ends."""
    rng = np.random.default_rng(seed)
    points, inside, out, usage = [], [], [], []
    for number in range(n_places):
        name, day = f"P{number:02}", dt.date(2018, 1, 1) + dt.timedelta(days=int(rng.integers(90)))
        records = dt.date(2018, 9, 1) if number % 3 == 0 else ""
        points.append(f"{name},pump,{records}")
        usage += [f"{name},2018-01-01,run_hours,500",
                  f"{name},{AS_OF},run_hours,{500 + 24 * (AS_OF - dt.date(2018, 1, 1)).days}"]
        while day < AS_OF:
            hose = f"H{len(inside)}"
            inside.append(f"{day},{name},{hose},{'one' if number % 2 else 'two'}")
            day += dt.timedelta(days=2 + int(600 * rng.weibull(1.6)))
            reason = str(rng.choice(["failed", "found_failed", "planned", "unknown"]))
            seen = day - dt.timedelta(days=1 + int(rng.integers(60)))
            cause = str(rng.choice(["braid_wear", "vib_fatigue", ""]))
            if day < AS_OF:
                out.append(f"{day},{name},{hose},{reason},{cause},"
                           f"{max(seen, BEGIN) if reason == 'found_failed' else ''}")
    return logs_of(points, inside, out, usage)


def test_a_meter_that_runs_all_day_tells_the_fits_of_days_in_hours():
    """Late entries, finds between two looks, suspensions and mechanisms: as the fits in days."""
    con = fitted(**running_all_day())
    days = con.execute("select * from results.fits order by all").df()
    hours = con.execute("select * from results.clock_fits order by all").df()
    assert (days["n_intervals"].max(), days["status"].eq("ok").sum()) >= (3, 4)
    same = ["application_class", "construction", "mechanism", "status", "n_lives", "n_failures",
            "n_intervals", "n_suspensions", "n_unknown"]
    pd.testing.assert_frame_equal(days[same], hours[same])
    assert hours["n_left_out"].eq(0).all()
    for name, in_days, times in (
        [(f"shape{end}", f"shape{end}", 1.0) for end in ("", "_lower", "_upper")]
        + [(f"{name}{end}", f"{name}_days{end}", 24.0) for end in ("", "_lower", "_upper")
           for name in ("b10", "characteristic_life")]
        + [("longest_life", "longest_life_days", 24.0), ("mean_life", "mean_life_days", 24.0)]
    ):
        assert_allclose(hours[name].astype(float), times * days[in_days].astype(float), rtol=1e-6,
                        err_msg=name)


ODD = {
    "whole": ("2020-06-01", "failed", "", [("2020-01-01", 0), ("2022-01-01", 7310)]),
    "no meter": ("2020-06-01", "failed", "", []),
    "not from its start": ("2020-06-01", "failed", "", [("2020-03-01", 0), ("2022-01-01", 900)]),
    # read for a hundred days at 10 h a day, then runs on for 90 more, then nobody knows
    "cut": ("2021-06-01", "failed", "", [("2020-01-01", 0), ("2020-04-10", 1000)]),
    # seen in order within the readings, found failed long after them
    "cut at a look": ("2021-06-01", "found_failed", "2020-02-10",
                      [("2020-01-01", 0), ("2020-04-10", 1000)]),
    "no run": ("2020-06-01", "failed", "", [("2020-01-01", 70), ("2022-01-01", 70)]),
}


def test_every_life_is_told_cut_or_left_out_for_a_reason():
    points = [f"P{n},pump," for n in range(len(ODD))]
    inside = [f"2020-01-01,P{n},H{n},one" for n in range(len(ODD))]
    out = [f"{removed},P{n},H{n},{reason},,{seen}"
           for n, (removed, reason, seen, _) in enumerate(ODD.values())]
    usage = [f"P{n},{on},run_hours,{shown}" for n, (*_, read) in enumerate(ODD.values())
             for on, shown in read]
    con = fitted(**logs_of(points, inside, out, usage))
    infinity = float("inf")
    assert rows(con, "select place, reading, low, high from fit.clock_lives order by place") == [
        (0, "whole", 1520.0, 1520.0), (1, "no meter", None, None),
        (2, "not from its start", None, None), (3, "cut", 1900.0, infinity),
        (4, "cut", 400.0, infinity), (5, "no run", 0.0, 0.0)]
    assert rows(con, """select n_lives, n_failures, n_suspensions, n_cut, n_cut_failures,
        n_left_out, n_left_out_failures, n_without_meter, n_not_from_start, n_not_run
        from results.clock_fits where mechanism = 'all'""") == [(3, 1, 2, 2, 2, 3, 3, 1, 1, 1)]
    # a life that outlasts its readings has no hours of its own among the lives
    assert rows(con, "select count(*) from lives.lives where run_hours_origin = 'meter'") == [(2,)]


def test_hours_by_a_declared_duty_are_no_readings():
    logs = logs_of(["P1,pump,"], ["2020-01-01,P1,A,one"], ["2020-06-01,P1,A,failed,,"], [])
    logs["service_points"] = ("service_point,application_class,run_hours_per_year\n"
                              "P1,pump,4000")
    fitted((), **logs)


def test_few_failures_get_words_for_a_number_as_in_days():
    read = ["P1,2020-01-01,cycles,0", "P1,2025-01-01,cycles,9000"]
    con = fitted(("cycles",), **logs_of(["P1,pump,"], ["2020-01-01,P1,A,one"], [], read))
    assert rows(con, """select status, shape, characteristic_life, b10, longest_life
        from results.clock_fits where mechanism = 'all'""") == [
        ("no_failures", None, None, None, 9000.0)]
    assert rows(con, "select count(*) from results.clock_curves") == [(0,)]
