"""The important doubts with B10 and the dearest places under their other reading."""

from types import SimpleNamespace

import duckdb
import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize

from etl.build.doubts import doubts
from etl.build.other_readings import other_b10
from etl.load.warehouse import files_of
from tests.sql.tiny import build, rows

DOUBTS = ("unknown reasons", "missing mechanisms", "missing installations", "implied removals")
OPEN = [1461, 1677]
"""Days of the two hoses still in service."""


def weibull_b10(failed, suspended):
    """B10 by scipy's own minimiser (a general-purpose library), days."""
    failed, suspended = np.asarray(failed, float), np.asarray(suspended, float)

    def loss(x):
        beta, eta = np.exp(x)
        return -(np.log(beta / eta) + (beta - 1) * np.log(failed / eta)).sum() + (
            (np.r_[failed, suspended] / eta) ** beta).sum()

    start = np.log([1.5, failed.mean() * 1.5])
    beta, eta = np.exp(minimize(loss, start, method="Nelder-Mead",
                                options={"xatol": 1e-10, "fatol": 1e-10, "maxiter": 5000}).x)
    return float(eta * (-np.log(0.9)) ** (1 / beta))


def test_every_important_doubt_of_the_demo_tells_of_b10_and_of_the_ranking(edition):
    effects = dict(edition.execute("select doubt, effect from doubts where n_rows > 0").fetchall())
    for doubt in ("removals without a reason", "failures without a concluded mechanism",
                  "removals without a known installation",
                  "removals implied by the next installation"):
        assert ", the largest change among" in effects[doubt]
    for doubt in ("removals without a reason", "removals without a known installation",
                  "removals implied by the next installation"):
        assert "dearest places would" in effects[doubt]
    assert "ranking" in effects["failures without a concluded mechanism"]
    named = edition.execute("select distinct doubt from other_readings order by 1").fetchall()
    assert [name for name, in named] == sorted(DOUBTS)


def test_b10_as_read_is_that_of_the_kind_and_other_readings_only_shorten_it(edition):
    assert edition.execute("""select count(*) from other_readings as o
        join fits as f using (application_class, construction, mechanism)
        where abs(o.b10_days / f.b10_days - 1) > 1e-6""").fetchone() == (0,)
    differ = edition.execute("""select count(*) from other_readings as o
        join fits as f using (application_class, construction, mechanism)
        where o.doubt = 'unknown reasons'
            and abs(o.b10_days_other / f.b10_days_if_unknown_failed - 1) > 1e-6""").fetchone()
    assert differ == (0,)


@pytest.fixture(scope="module")
def read_otherwise():
    """Lives of one kind: known failures, one without reason, one implied, one orphan."""
    ins, out = [], []
    for number, days in enumerate((100, 220, 310), start=1):
        ins.append(f"2020-01-01,P{number},A{number},vib")
        day = np.datetime64("2020-01-01") + days
        out.append(f"{day},P{number},A{number},failed,bend_fatigue")
    ins += ["2020-01-01,P4,A4,vib", "2020-01-01,P5,A5,vib", "2020-05-30,P5,A6,vib",
            "2021-01-01,P6,A7,vib"]
    out += ["2020-06-29,P4,A4,unknown,", "2020-12-01,P6,,failed,unknown"]
    points = "service_point,application_class,records_from\n" + "\n".join(
        f"P{number},steam,2020-01-01" for number in range(1, 7))
    con = build(service_points=points,
                installations="installed_on,service_point,hose_id,construction\n" + "\n".join(ins),
                replacements="removed_on,service_point,hose_id,reason,mechanism\n" + "\n".join(out))
    con.execute("create schema if not exists fit")
    con.execute("create view fit.counted_lives as from lives.lives")
    con.execute("""create table fit.cells as select 0 as cell, 'steam' as application_class,
        'vib' as construction""")
    con.execute("""create table fit.places as select row_number() over (order by service_point) - 1
        as place, service_point, application_class from clean.service_points""")
    for file in files_of("fit"):
        if file.stem in ("46_orphan_lives", "47_other_readings", "48_other_lives"):
            con.execute(file.read_text(encoding="utf-8"))
    return con


def test_a_removal_without_installation_is_read_from_the_day_the_records_begin(read_otherwise):
    assert rows(read_otherwise, "select low, high from fit.orphan_lives") == [(335.0, 335.0)]


def test_rows_in_doubt_stand_at_their_places(read_otherwise):
    assert rows(read_otherwise, "select doubt, place, n from fit.other_readings order by all") == [
        ("implied removals", 4, 1.0), ("unknown reasons", 3, 1.0), ("unknown reasons", 4, 1.0)]


@pytest.mark.parametrize(("doubt", "failed", "suspended"), [
    ("unknown reasons", [100, 220, 310, 180, 150], []),
    ("implied removals", [100, 220, 310, 150], [180]),
    ("missing installations", [100, 220, 310, 335], [180, 150])])
def test_other_reading_of_each_doubt_as_counted_by_hand(read_otherwise, doubt, failed, suspended):
    found = rows(read_otherwise, f"""select low, high, n::integer from fit.other_lives
        where doubt = '{doubt}' and is_other and low < 1000 order by all""")
    ended = sorted([(float(day), float(day), 1) for day in failed]
                   + [(float(day), float("inf"), 1) for day in suspended])
    assert found == ended
    lives = SimpleNamespace(classes=("steam",), constructions=("vib",), cell_class=np.zeros(1, int),
                            cell_construction=np.zeros(1, int))
    b10 = other_b10(read_otherwise, SimpleNamespace(lives=lives)).set_index("doubt").loc[doubt]
    assert_allclose(b10["b10_days_other"], weibull_b10(failed, suspended + OPEN), rtol=1e-5)
    assert_allclose(b10["b10_days"], weibull_b10([100, 220, 310], [180, 150] + OPEN), rtol=1e-5)


def test_another_hose_by_the_logs_gives_no_age_to_a_removal():
    con = build(service_points="service_point,application_class\nP1,steam",
                installations="installed_on,service_point,hose_id,construction\n2020-01-01,P1,A,vib",
                replacements="removed_on,service_point,hose_id,reason\n2020-05-01,P1,B,failed")
    assert rows(con, "select cause, is_failure from lives.orphans") == [("tag mismatch", True)]


def test_words_say_so_where_there_is_nothing_to_put_beside():
    with duckdb.connect() as con:
        con.execute("create schema fit")
        con.execute("create schema seeds")
        con.execute("create table seeds.mechanisms (mechanism varchar, short varchar)")
        con.execute("create table fit.doubt_counts as select 4, 0, 0, 0, 1, 0")
        b10 = pd.DataFrame({"doubt": [], "mechanism": [], "b10_days": [], "b10_days_other": []})
        ranks = pd.DataFrame({"doubt": [], "rank": [], "rank_other": []})
        told = doubts(con, b10, ranks).set_index("doubt")["effect"]
    assert "no B10 can be put beside another" in told["removals without a reason"]
    assert "the ranking stays as it is" in told["removals without a reason"]
    assert "there is none" in told["removals implied by the next installation"]


def test_lives_left_out_add_up_over_the_files(edition):
    by_file = edition.execute("""select exclusion, sum(n_lives)::bigint from exclusion_files
        group by exclusion order by exclusion""").fetchall()
    assert by_file == edition.execute("from exclusions order by exclusion").fetchall()
    assert len(by_file) > 1
