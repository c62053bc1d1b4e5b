"""Stays become lives: failures, intervals and suspensions with the age at which they began."""

from __future__ import annotations

import pytest

from tests.sql.tiny import ONE_PLACE, build, day, faulty, rows

PLACE_WITH = "service_point,application_class,records_from,retired_on\nP1,steam,"


def life(reason: str | None, removed: str = "2020-04-10", extra: str = "", place: str = ONE_PLACE,
         installed: str = "2020-01-01", as_of: str = "2025-01-01", **more):
    """Build one stay; `extra` is its last_seen_good_on. Day 100 is 2020-04-10."""
    if reason is not None:
        more["replacements"] = ("removed_on,service_point,reason,last_seen_good_on\n"
                                f"{removed},P1,{reason},{extra}")
    con = build(day(as_of), service_points=place,
                installations=f"installed_on,service_point,hose_id\n{installed},P1,A", **more)
    assert faulty(con, "lives_ages") == []
    assert faulty(con, "lives_complete") == []
    return con


def ages(con):
    """Return kind, entry age, both ends and exclusion of the lives."""
    return rows(con, "select kind, entry_age_days, age_low_days, age_high_days, exclusion "
                     "from lives.lives order by life_id")


def test_failed_is_a_failure_at_its_age():
    con = life("failed")
    assert ages(con) == [("failed", 0.0, 100.0, 100.0, None)]
    assert rows(con, "select * exclude (run_hours_low, run_hours_high, run_hours_entry, "
                     "run_hours_origin, cycles_low, cycles_high, cycles_entry) "
                     "from lives.lives") == [
        (1, "A", "P1", "steam", "unknown", None, "unknown", "failed", "failed", False, 0.0, 100.0,
         100.0, day("2020-01-01"), day("2020-04-10"), False, True, None,
         0.0, False, None, None, None, None, None, 2, 2, 3, 2)]


@pytest.mark.parametrize("reason", ["planned", "opportunity", "upgraded", "relocated", "retired"])
def test_removed_for_another_reason_is_a_suspension(reason):
    con = life(reason)
    assert ages(con) == [("suspended", 0.0, 100.0, None, None)]
    assert rows(con, "select mechanism, removal_reason, is_unknown_reason from lives.lives") == [
        (None, reason, False)]


def test_unknown_reason_is_a_suspension_that_is_marked():
    con = life("unknown")
    assert ages(con) == [("suspended", 0.0, 100.0, None, None)]
    assert rows(con, "select removal_reason, is_unknown_reason from lives.lives") == [
        ("unknown", True)]


def test_implied_removal_is_a_suspension_of_unknown_reason():
    con = build(service_points=ONE_PLACE, installations=
                "installed_on,service_point\n2020-01-01,P1\n2020-04-10,P1")
    assert ages(con)[0] == ("suspended", 0.0, 100.0, None, None)
    assert rows(con, "select removal_reason, is_unknown_reason, is_open from lives.lives "
                     "order by life_id") == [("unknown", True, False), ("in service", False, True)]


def test_removed_degraded_is_a_failure_found_in_time():
    assert ages(life("removed_degraded")) == [("failed", 0.0, 100.0, 100.0, None)]


def test_removed_degraded_is_a_suspension_where_the_class_says_so():
    assert ages(life("removed_degraded", lenient=["steam"])) == [
        ("suspended", 0.0, 100.0, None, None)]
    assert ages(life("removed_degraded", lenient=["water"])) == [
        ("failed", 0.0, 100.0, 100.0, None)]
    assert ages(life("failed", lenient=["steam"])) == [("failed", 0.0, 100.0, 100.0, None)]


INSPECTED = "inspected_on,service_point,condition\n"


@pytest.mark.parametrize(("seen", "inspections", "low"), [
    pytest.param("2020-03-31", "", 90.0, id="after it was last seen good"),
    pytest.param("", "2020-02-10,P1,good", 40.0, id="after the last good inspection"),
    pytest.param("", "2020-02-10,P1,good\n2020-03-01,P1,worn", 40.0, id="worn is not good"),
    pytest.param("", "2020-02-10,P1,good\n2020-01-11,P1,good", 40.0, id="the last of two"),
    pytest.param("", "2020-04-10,P1,good", 0.0, id="an inspection of the day it was found failed"),
    pytest.param("", "2019-06-01,P1,good", 0.0, id="an inspection of the hose before it"),
    pytest.param("", "", 0.0, id="after its installation"),
])
def test_found_failed_is_an_interval(seen, inspections, low):
    con = life("found_failed", extra=seen, inspections=INSPECTED + inspections)
    assert ages(con) == [("interval", 0.0, low, 100.0, None)]


def test_found_failed_on_the_day_it_was_last_seen_good_is_exact():
    assert ages(life("found_failed", extra="2020-04-10")) == [("failed", 0.0, 100.0, 100.0, None)]


def test_last_seen_good_does_not_widen_a_failure_that_was_noticed():
    assert ages(life("failed", extra="2020-03-31")) == [("failed", 0.0, 100.0, 100.0, None)]


@pytest.mark.parametrize("reason", ["failed", "found_failed", "removed_degraded"])
def test_failure_after_zero_days_happened_within_the_first(reason):
    assert ages(life(reason, removed="2020-01-01")) == [("interval", 0.0, 0.0, 1.0, None)]


def test_suspension_after_zero_days_was_not_watched():
    assert ages(life("planned", removed="2020-01-01")) == [
        ("suspended", 0.0, 0.0, None, "no time under observation")]


def test_open_life_is_suspended_at_the_data_date():
    con = life(None, as_of="2020-04-10")
    assert ages(con) == [("suspended", 0.0, 100.0, None, None)]
    assert rows(con, "select removal_reason, is_open from lives.lives") == [("in service", True)]


def test_open_life_is_suspended_when_its_place_is_retired():
    con = life(None, place=PLACE_WITH + ",2020-04-10")
    assert ages(con) == [("suspended", 0.0, 100.0, None, None)]
    assert rows(con, "select * from lives.in_service") == []


def test_place_retired_in_the_future_is_in_use():
    con = life(None, place=PLACE_WITH + ",2030-01-01", as_of="2020-04-10")
    assert ages(con) == [("suspended", 0.0, 100.0, None, None)]
    assert rows(con, "select * from lives.in_service") == [
        ("P1", "A", "unknown", None, day("2020-01-01"), 100.0, 1)]


def test_retirement_before_the_installation_does_not_end_the_stay():
    con = life(None, place=PLACE_WITH + ",2019-01-01", as_of="2020-04-10")
    assert ages(con) == [("suspended", 0.0, 100.0, None, None)]
    assert rows(con, "select finding from lives.findings") == [("installed after retirement",)]


def test_installed_on_the_data_date_was_not_watched():
    assert ages(life(None, as_of="2020-01-01")) == [
        ("suspended", 0.0, 0.0, None, "no time under observation")]


def test_hose_older_than_the_records_enters_at_the_age_it_had_then():
    con = life("failed", place=PLACE_WITH + "2020-02-10,")
    assert ages(con) == [("failed", 40.0, 100.0, 100.0, None)]


def test_hose_installed_after_the_records_begin_enters_new():
    assert ages(life("failed", place=PLACE_WITH + "2019-02-10,")) == [
        ("failed", 0.0, 100.0, 100.0, None)]


def test_interval_begins_no_earlier_than_the_records():
    con = life("found_failed", extra="2020-01-11", place=PLACE_WITH + "2020-02-10,")
    assert ages(con) == [("interval", 40.0, 40.0, 100.0, None)]


@pytest.mark.parametrize("reason", ["failed", "found_failed", "planned"])
@pytest.mark.parametrize("records_from", ["2020-04-10", "2021-01-01"])
def test_life_that_ended_before_the_records_is_counted_but_not_fitted(reason, records_from):
    con = life(reason, place=PLACE_WITH + records_from + ",")
    assert rows(con, "select is_fitted, exclusion from lives.lives") == [
        (False, "ended before the records begin")]


def test_in_service_tells_what_sits_there_and_how_old_it_is():
    con = life(None, as_of="2020-04-10", inspections=INSPECTED)
    assert rows(con, "select * from lives.in_service") == [
        ("P1", "A", "unknown", None, day("2020-01-01"), 100.0, 1)]


@pytest.mark.parametrize(("logged", "concluded", "expected"), [
    pytest.param("braid_wear", "", "braid_wear", id="in the log of removals"),
    pytest.param("", "mechanism,cl_scc", "cl_scc", id="in the log of examinations"),
    pytest.param("braid_wear", "mechanism,cl_scc", "braid_wear", id="the removal's own goes first"),
    pytest.param("unknown", "mechanism,cl_scc", "cl_scc", id="an examination settles an unknown"),
    pytest.param("", "mechanism,Squirm", "squirm", id="by its name"),
    pytest.param("", "loc_end,yes", "unknown", id="evidence alone concludes nothing"),
    pytest.param("", "", "unknown", id="nowhere"),
])
@pytest.mark.parametrize("by", ["A,,", ",P1,2020-04-10"])
def test_mechanism_of_a_failure(logged, concluded, expected, by):
    teardowns = "hose_id,service_point,removed_on,examined_on,finding,value\n"
    if concluded:
        teardowns += f"{by},2020-05-01,{concluded}"
    con = build(service_points=ONE_PLACE, teardowns=teardowns,
                installations="installed_on,service_point,hose_id\n2020-01-01,P1,A",
                replacements=f"removed_on,service_point,reason,mechanism\n2020-04-10,P1,failed,{logged}")
    assert rows(con, "select mechanism from lives.lives") == [(expected,)]


def test_latest_examination_counts():
    con = life("failed", teardowns="hose_id,examined_on,finding,value\n"
               "A,2020-05-01,mechanism,squirm\nA,2020-06-01,mechanism,cl_scc")
    assert rows(con, "select mechanism from lives.lives") == [("cl_scc",)]


def test_examination_goes_to_the_stay_that_it_followed():
    con = build(
        service_points=ONE_PLACE,
        teardowns="hose_id,examined_on,finding,value\nA,2020-05-01,mechanism,squirm",
        installations="installed_on,service_point,hose_id\n2020-01-01,P1,A\n2021-01-01,P1,A",
        replacements="removed_on,service_point,reason,hose_id\n"
                     "2020-04-10,P1,failed,A\n2022-04-10,P1,failed,A")
    assert rows(con, "select mechanism from lives.lives order by life_id") == [
        ("squirm",), ("unknown",)]
