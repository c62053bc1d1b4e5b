"""From rows of the teardown log to a suggested mechanism, and to the lives it counts in."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from etl.build.evidence_tables import read_evidence
from etl.build.teardown_table import (
    LEAST_TO_COUNT,
    add_teardown_evidence,
    choose_method,
    teardown_evidence,
)
from etl.load.warehouse import run_sql
from tests.decide.evidence_world import make_cases, make_site
from tests.sql.tiny import ONE_PLACE, build, rows

TABLE = read_evidence().table
HEAD = "hose_id,service_point,removed_on,examined_on,finding,value"
TWISTED = ("crk_45", "braid_skew", "plane_out")
SHAKEN = ("vib_high", "res_match", "shake_seen", "hcf_flat", "no_corr")


def log(*findings, by="A,,", on="2020-05-01"):
    return "\n".join([HEAD, *(f"{by},{on},{name}" if "," in name else f"{by},{on},{name},"
                              for name in findings)])


def taken_apart(teardowns, mechanism="", reason="failed"):
    con = build(
        service_points=ONE_PLACE, teardowns=teardowns,
        installations="installed_on,service_point,hose_id\n2020-01-01,P1,A\n2020-04-10,P1,B",
        replacements=f"removed_on,service_point,reason,mechanism\n2020-04-10,P1,{reason},{mechanism}")
    add_teardown_evidence(con)
    for name in ("fit/12_inferred_mechanisms", "fit/15_counted_lives",
                 "results/53_teardown_evidence"):
        run_sql(con, name)
    return con


def first(con, columns):
    return rows(con, f"select {columns} from results.teardown_evidence where rank = 1 "
                     "order by removed_on, hose_id")


@pytest.mark.parametrize("by", ["A,,", ",P1,2020-04-10", "A,P1,2020-04-10"])
def test_a_teardown_suggests_a_mechanism_for_the_stay_it_followed(by):
    con = taken_apart(log(*TWISTED, by=by))
    assert first(con, "life_id, hose_id, service_point, removed_on, mechanism, n_checked") == [
        (1, "A", "P1", dt.date(2020, 4, 10), "torsion_fatigue", 3)]


def test_what_speaks_for_and_against_is_told_with_its_strength():
    con = taken_apart(log("crk_45", "loc_mid"))
    assert first(con, "mechanism, speaks_for, speaks_against") == [
        ("torsion_fatigue", ["slanting or spiral crack, near 45 degrees (strongly)"], None)]
    con = taken_apart(log("crk_circ", "loc_end", "set_bend", "shake_seen", "vib_high"))
    against = rows(con, "select speaks_against from results.teardown_evidence "
                        "where mechanism = 'vib_fatigue'")
    assert against == [(["hose keeps a bend close to the crack (weakly)"],)]


def test_next_check_is_told_in_words_with_where_to_look():
    con = taken_apart(log("loc_end", "crk_circ"))
    (said, points), = first(con, "next_check, open_points")
    assert said.endswith(("(hose outside)", "(in place)", "(records)"))
    assert any("is just as likely" in point for point in points)


@pytest.mark.parametrize(("value", "state"), [
    ("", [1]), ("yes", [1]), ("3 mm", [1]), ("no", [-1]), ("Absent", [-1]),
    ("true", [1]), ("false", [-1]),
    ("not checked", []), ("?", []),
])
def test_a_value_tells_present_from_absent_and_from_not_checked(value, state):
    con = taken_apart(log(f"kink,{value}", "crk_45"))
    found = rows(con, "select state from fit.teardown_findings where finding = 'kink'")
    assert [row[0] for row in found] == state


def test_a_finding_may_be_named_in_words():
    con = taken_apart(log('KINK', '"Slanting or spiral crack, near 45 degrees",'))
    assert rows(con, "select finding from fit.teardown_findings order by finding") == [
        ("crk_45",), ("kink",)]


def test_the_latest_look_counts_and_contradictions_of_one_day_do_not():
    con = taken_apart("\n".join([
        HEAD, "A,,,2020-05-01,kink,yes", "A,,,2020-06-01,kink,no", "A,,,2020-05-01,crk_45,yes",
        "A,P1,,2020-05-01,dent,yes", "A,,,2020-05-01,dent,no"]))
    assert rows(con, "select finding, state from fit.teardown_findings order by finding") == [
        ("crk_45", 1), ("kink", -1)]


def test_findings_outside_the_vocabulary_are_counted_not_guessed():
    con = taken_apart(log("crk_45", "smelt odd", "mechanism,torsion_fatigue"))
    assert first(con, "n_checked, n_unread") == [(1, 1)]


def test_a_teardown_without_a_known_stay_is_still_judged():
    con = taken_apart(log(*TWISTED, by="Z,P1,2019-01-01"))
    assert first(con, "life_id, hose_id, mechanism, is_counted") == [
        (None, "Z", "torsion_fatigue", False)]


def test_no_teardown_at_all():
    con = taken_apart(HEAD)
    assert first(con, "*") == []
    assert rows(con, "select mechanism from fit.counted_lives where kind <> 'suspended'") == [
        ("unknown",)]


def mechanism_of_the_life(con):
    return rows(con, "select mechanism from fit.counted_lives where life_id = 1")[0][0]


def test_a_sure_teardown_counts_for_a_failure_nobody_explained():
    con = taken_apart(log(*TWISTED))
    assert first(con, "probability")[0][0] >= LEAST_TO_COUNT
    assert first(con, "is_counted") == [(True,)]
    assert mechanism_of_the_life(con) == "torsion_fatigue"


@pytest.mark.parametrize(("findings", "logged", "reason", "left"), [
    pytest.param(("crk_45",), "", "failed", "unknown", id="not sure enough"),
    pytest.param(TWISTED, "squirm", "failed", "squirm", id="people's word goes first"),
    pytest.param(TWISTED, "", "planned", None, id="no failure"),
    pytest.param(SHAKEN, "", "failed", "unknown", id="vibration without its exclusions"),
])
def test_other_teardowns_change_no_life(findings, logged, reason, left):
    con = taken_apart(log(*findings), logged, reason)
    assert first(con, "is_counted") == [(False,)]
    assert mechanism_of_the_life(con) == left


def test_vibration_left_out_was_likely_enough():
    con = taken_apart(log(*SHAKEN))
    assert first(con, "mechanism, probability >= 0.8, level") == [
        ("vib_fatigue", True, "suspected")]


def test_order_of_rows_changes_nothing():
    lines = log(*TWISTED, "kink", "loc_end").splitlines()
    one = taken_apart("\n".join(lines))
    two = taken_apart("\n".join([lines[0], *lines[:0:-1]]))
    query = "select * from results.teardown_evidence order by all"
    assert rows(one, query) == rows(two, query)


@pytest.fixture(scope="module")
def site():
    rng = np.random.default_rng(9)
    return make_site(TABLE, rng), rng


@pytest.mark.parametrize(("n", "habit", "said"), [
    (10, "checklist", "prior from 10 concluded teardowns"),
    (150, "checklist", "weights learnt from 150 concluded teardowns"),
    (150, "by suspicion", "nothing else learnt"),
    (150, "when present", "nothing else learnt"),
])
def test_what_may_be_learnt_depends_on_number_and_habit(site, n, habit, said):
    states, confirmed = make_cases(*site, n, habit)
    assert said in choose_method(TABLE, states, confirmed).words


def test_without_conclusions_the_prior_is_flat(site):
    states, _ = make_cases(*site, 30)
    method = choose_method(TABLE, states, np.full(30, -1))
    assert np.ptp(method.log_prior) == 0.0
    assert "no mechanism taken as likelier beforehand" in method.words


def test_learnt_absence_is_told_as_such(site):
    states, confirmed = make_cases(*site, 300)
    cases = pd.DataFrame({
        "teardown": np.arange(300), "life_id": pd.array([None] * 300, "Int64"),
        "hose_id": "H", "service_point": "P", "removed_on": pd.Timestamp("2020-01-01"),
        "examined_on": pd.Timestamp("2020-01-02"), "n_unread": 0, "logged_mechanism": None,
        "confirmed_mechanism": [TABLE.mechanisms[m] for m in confirmed], "is_open": False})
    frame = teardown_evidence(read_evidence(), cases, states)
    assert len(frame) == 900
    assert frame["basis"].str.startswith("weights learnt").all()
    assert frame["speaks_for"].str.contains("no ", na=False).any()


def test_findings_common_to_all_hoses_are_capped_once_enough_are_examined(site):
    states, _ = make_cases(*site, 60)
    states[:, TABLE.row("crest_marks")] = 1
    few = choose_method(TABLE, states[:40], np.full(40, -1)).table
    many = choose_method(TABLE, states, np.full(60, -1)).table
    row = TABLE.row("crest_marks")
    np.testing.assert_array_equal(few.weight, TABLE.weight)
    assert many.weight[row].max() < 0.2 < TABLE.weight[row].max()


@pytest.mark.parametrize("row", [
    "A,,,2020-05-01", "A,,,2022-05-01", "A,P1,,2022-05-01", "A,P2,,2022-05-01",
    ",P1,2020-04-10,2020-05-01", "B,P1,2020-04-10,2020-05-01", "A,,2022-04-10,2022-05-01",
    "A,,,2020-04-09", "Z,P1,2022-04-10,2022-05-01", ",P1,2020-04-11,2020-05-01",
])
def test_findings_and_conclusions_of_one_examination_go_to_the_same_stay(row):
    con = build(
        service_points="service_point,application_class\nP1,steam\nP2,steam",
        teardowns=f"{HEAD}\n{row},mechanism,squirm\n{row},crk_45,",
        installations="installed_on,service_point,hose_id\n2020-01-01,P1,A\n2021-01-01,P1,A\n"
                      "2020-02-01,P2,B",
        replacements="removed_on,service_point,reason,hose_id\n2020-04-10,P1,failed,A\n"
                     "2022-04-10,P1,failed,A\n2020-04-10,P2,failed,B")
    add_teardown_evidence(con)
    found = rows(con, "select installation_no from fit.examined where finding = 'crk_45' "
                      "and installation_no is not null")
    assert found == rows(con, "select installation_no from lives.concluded")
