"""Wiring of life under vibration: which lives enter, what is said of a fleet that knows little."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from etl.build.lives import read_lives
from etl.build.statistics import life_statistics
from etl.build.teardown_table import add_teardown_evidence
from etl.build.vibration.history import vibration_share
from etl.build.vibration.input import read_vibration
from etl.build.vibration.maps import _near_resonance, old_share
from etl.build.vibration.table import add_vibration
from etl.life.vibration.hull import MOST_OLD
from etl.load.warehouse import run_layer, run_sql
from etl.settings import Settings
from tests.sql.tiny import AS_OF, build, faulty, rows

SETTINGS = Settings(n_draws=24)
TABLES = ("summary", "constructions", "lives", "cells", "places", "choices", "errors")
KINDS = {"SOFT": (20.0, 2.0, 0.9), "MIDDLE": (35.0, 2.4, 1.0), "STIFF": (90.0, 3.5, 1.6)}


def fleet(n_places=60, *, share_read=0.8, concluded="vib_fatigue", seed=1):
    """Return the logs of places that shake; lives fall with velocity to the power 1.5."""
    rng = np.random.default_rng(seed)
    points, fitted, out, looks = [], [], [], []
    for number in range(n_places):
        name, speed = f"P{number:03}", 7.0 * float(np.exp(0.5 * rng.normal()))
        read = rng.random() < share_read
        points.append(f"{name},pump,50,10,60,800,500,{f'{speed:.1f}' if read else ''},"
                      f"{'25' if read else ''}")
        if read and number % 2:
            again = speed * float(np.exp(0.15 * rng.normal()))
            looks.append(f"2022-05-05,{name},good,{again:.1f},25")
        day = dt.date(2019, 1, 1)
        while day < AS_OF:
            kind = str(rng.choice(list(KINDS)))
            life = 700.0 * KINDS[kind][2] * (speed / 7.0) ** -1.5 * float(rng.weibull(1.8))
            hose = f"H{len(fitted)}"
            fitted.append(f"{day},{name},{hose},{kind}")
            day += dt.timedelta(days=int(life) + 1)
            if day < AS_OF:
                cause = concluded if rng.random() < 0.7 else ""
                out.append(f"{day},{name},{hose},failed,{cause}")
    return {
        "service_points": "service_point,application_class,dn,pressure_bar,temperature_c,"
                          "bend_radius_mm,live_length_mm,vibration_mm_s_rms,vibration_hz\n"
                          + "\n".join(points),
        "constructions": "construction,dn,core_alloy,mass_kg_per_m,bending_stiffness_n_m2,"
                         "min_bend_radius_dynamic_mm,rated_pressure_bar\n" + "\n".join(
                             f"{name},50,316L,{mass},{stiff},250,40"
                             for name, (stiff, mass, _) in KINDS.items()),
        "installations": "installed_on,service_point,hose_id,construction\n" + "\n".join(fitted),
        "replacements": "removed_on,service_point,hose_id,reason,mechanism\n" + "\n".join(out),
        "inspections": "inspected_on,service_point,condition,vibration_mm_s_rms,vibration_hz\n"
                       + "\n".join(looks),
    }


def estimated(**logs):
    con = build(**logs)
    add_teardown_evidence(con)
    run_layer(con, "fit", as_of=AS_OF, confidence=0.9, early_failure_days=90)
    return con, life_statistics(con, read_lives(con), AS_OF, SETTINGS)


def tables(con, found):
    """Return the published tables as rows."""
    add_vibration(con, found, SETTINGS)
    con.execute("create schema if not exists results")
    for name in TABLES:
        run_sql(con, f"results/57_vibration_{name}")
    return {name: rows(con, f"from results.vibration_{name}") for name in TABLES}


@pytest.fixture(scope="module")
def shaking():
    return estimated(**fleet())


@pytest.fixture(scope="module")
def published(shaking):
    return tables(*shaking)


def test_a_fleet_that_shakes_gets_every_table(shaking, published):
    con, _ = shaking
    assert all(published.values())
    status, low, high = rows(
        con, "select status, exponent_lower, exponent_upper from results.vibration_summary")[0]
    assert status == "estimated"
    assert low < 1.5 < high  # planted
    assert faulty(con, "vibration_summary") == []


def test_the_same_records_give_the_same_bytes(shaking, published):
    assert tables(*shaking) == published


def test_which_lives_count_as_failures(shaking):
    con, found = shaking
    share, mechanism = vibration_share(found, found.lives), found.lives.mechanism
    code = found.lives.mechanisms.index("vib_fatigue")
    assert (share[mechanism == code] == 1).all()
    assert (share[mechanism == -1] == 0).all()
    # Only vibration was ever concluded in this class, so every unknown cause is its.
    assert share[mechanism == -2] == pytest.approx(1.0)
    data = read_vibration(con, found).data
    assert np.isinf(data.high[data.failure == 0]).sum() == (mechanism == -1).sum()


def test_two_causes_share_what_nobody_concluded():
    logs = fleet(40)
    text = logs["replacements"].splitlines()
    text = [line.replace("vib_fatigue", "braid_wear") if number % 3 == 0 else line
            for number, line in enumerate(text)]
    con, found = estimated(**logs | {"replacements": "\n".join(text)})
    share = vibration_share(found, found.lives)
    unknown = share[found.lives.mechanism == -2]
    assert ((unknown > 0.2) & (unknown < 0.98)).all()
    other = found.lives.mechanisms.index("braid_wear")
    assert (share[found.lives.mechanism == other] == 0).all()


@pytest.mark.parametrize(("change", "words"), [
    ({"share_read": 0.0}, "No vibration reading"),
    ({"n_places": 6}, "of the 10 measured places"),
    ({"concluded": "bend_fatigue"}, "of the 20 failures by vibration"),
])
def test_a_fleet_that_knows_little_gets_words_and_no_number(change, words):
    con, found = estimated(**fleet(**change))
    made = tables(con, found)
    (status, said, *numbers), = made.pop("summary")
    assert status == "none"
    assert words in said
    assert all(value in (None, "") for value in numbers)
    assert not any(made.values())
    assert faulty(con, "vibration_summary") == []


def bumped(cells):
    """Return the logs with a bump test at the first places, each cell as typed."""
    logs = fleet(40, share_read=1.0)
    lines = [f"{line}," for line in logs["inspections"].splitlines()]
    lines[0] += "natural_frequency_hz"
    lines += [f"2022-05-06,P{number:03},good,,,{cell}" for number, cell in enumerate(cells)]
    return logs | {"inspections": "\n".join(lines)}


def test_a_measured_natural_frequency_goes_before_a_computed_one():
    def read(cells):
        con, found = estimated(**bumped(cells))
        run_layer(con, "fit/vibration")
        return con, read_vibration(con, found)

    con, given = read(["31.5", "not felt"])
    place, kind = (int(at[0]) for at in np.nonzero(given.is_measured))
    assert given.is_measured.sum() == 1  # the cell that is no number is refused, not guessed
    assert given.places["service_point"][place] == "P000"
    assert given.natural_hz[place, kind] == 31.5
    assert given.data.log_frequency_ratio[place, kind] == pytest.approx(np.log(25 / 31.5))
    (then,), = rows(con, "select construction from lives.stays where service_point = 'P000' and "
                         "installed_on <= date '2022-05-06' order by installed_on desc limit 1")
    assert given.constructions[kind] == then  # the hose that was in on that day
    computed = read([])[1].natural_hz
    others = ~given.is_measured
    assert given.natural_hz[others] == pytest.approx(computed[others])
    assert ("natural_frequency_hz", "not felt") in rows(
        con, "select column_name, value from clean.refused_cells")


def dated(cells):
    """Return the logs with removals on record from 2021 only; days of commissioning as typed."""
    logs = fleet(40)
    points = logs["service_points"].splitlines()
    told = [*cells, *[""] * (len(points) - 1 - len(cells))]
    removals = logs["replacements"].splitlines()
    return logs | {
        "service_points": "\n".join([
            f"{points[0]},records_from,commissioned_on",
            *(f"{line},2021-01-01,{day}" for line, day in zip(points[1:], told, strict=True))]),
        "replacements": "\n".join([removals[0], *(
            line.replace("failed,vib_fatigue", "planned,") if number % 5 == 0 else line
            for number, line in enumerate(removals[1:]) if line >= "2021-01-01")]),
    }


def test_a_place_known_from_its_first_day_counts_from_new():
    days = ["2019-01-01"] * 8 + ["2018-12-20", "2015-06-01", "sometime"]
    con, found = estimated(**dated(days))
    run_layer(con, "fit/vibration")
    data = read_vibration(con, found).data
    whole = data.place < 9  # the tenth was commissioned long before its first hose on record
    early = rows(con, "select count(*) from lives.lives where removed_on <= date '2021-01-01' and "
                      "service_point < 'P009'")[0][0]
    assert early > 5
    assert (data.entry[whole] == 0.0).all()
    assert data.count[data.rival > 0].sum() == early
    assert (data.place[data.rival > 0] < 9).all()
    unknown = data.failure[data.rival > 0]
    assert ((unknown > 0.0) & (unknown < 1.0)).all()  # some were changed for other reasons
    assert (data.entry[data.place >= 9] > 0).any()
    assert ("commissioned_on", "sometime") in rows(
        con, "select column_name, value from clean.refused_cells")


def test_what_dates_from_before_the_records_keeps_resonance_blank():
    data = SimpleNamespace(count=np.array([6.0, 1.0, 1.0]), entry=np.array([0.0, 200.0, 0.0]),
                           rival=np.array([0.0, 0.0, 1e-4]))
    assert old_share(SimpleNamespace(input=SimpleNamespace(data=data))) == pytest.approx(0.25)
    assert MOST_OLD < 0.25


@pytest.mark.parametrize(("ratio", "is_measured", "share_old", "words"), [
    ([1.0, 1.0], [False, False], 0.5, ""),
    ([0.1, 1.0], [False, True], 0.0, "its computed natural frequency is too near; measure it"),
    ([1.0, 0.1], [True, False], 0.5, "the present hose's computed natural frequency"),
    ([0.1, 1.0], [True, True], 0.0, ""),
    ([0.1, 1.0], [True, True], 0.5, "its natural frequency is too near, and too many hoses date"),
    ([np.nan, -0.1], [False, True], 0.5, "the present hose's natural frequency is too near, and"),
])
def test_a_choice_near_resonance_needs_a_measurement_and_whole_histories(
    ratio, is_measured, share_old, words
):
    data = SimpleNamespace(log_frequency_ratio=np.array([ratio]))
    given = SimpleNamespace(data=data, is_measured=np.array([is_measured]))
    terms = SimpleNamespace(has_resonance=True)
    model = SimpleNamespace(input=given, draws=SimpleNamespace(terms=terms))
    found = _near_resonance(model, (0, 0, 1), share_old)
    assert found.startswith(words)
    assert bool(found) == bool(words)
    terms.has_resonance = False
    assert _near_resonance(model, (0, 0, 1), share_old) == ""
