"""A hose keeps its age when it is seen again, unless its age is stated."""

from __future__ import annotations

from tests.sql.tiny import build, rows

PLACES = "service_point,application_class,records_from\nP1,steam,\nP2,steam,\nP3,steam,2020-12-01"
HEAD_IN = "installed_on,service_point,hose_id,age_at_installation\n"
HEAD_OUT = "removed_on,service_point,hose_id,reason\n"


def ages(installed: str, removed: str):
    con = build(service_points=PLACES, installations=HEAD_IN + installed,
                replacements=HEAD_OUT + removed)
    return con, rows(con, "select service_point, kind, entry_age_days, age_low_days "
                          "from lives.lives order by installed_on, service_point")


def test_hose_moved_to_another_place_enters_at_its_age():
    _, found = ages("2020-01-01,P1,A,\n2020-06-01,P2,A,",
                    "2020-04-10,P1,A,relocated\n2020-07-01,P2,A,failed")
    assert found == [("P1", "suspended", 0.0, 100.0), ("P2", "failed", 100.0, 130.0)]


def test_age_is_carried_whatever_the_reason_and_over_several_stays():
    _, found = ages("2020-01-01,P1,A,\n2020-06-01,P1,A,\n2020-08-01,P2,A,",
                    "2020-04-10,P1,A,planned\n2020-07-01,P1,A,failed\n2020-08-11,P2,A,failed")
    assert found == [("P1", "suspended", 0.0, 100.0), ("P1", "failed", 100.0, 130.0),
                     ("P2", "failed", 130.0, 140.0)]


def test_stated_age_goes_before_the_carried_one_and_is_carried_on():
    _, found = ages("2020-01-01,P1,A,\n2020-06-01,P2,A,10\n2020-08-01,P1,A,",
                    "2020-04-10,P1,A,relocated\n2020-07-01,P2,A,planned\n2020-08-11,P1,A,failed")
    assert found == [("P1", "suspended", 0.0, 100.0), ("P2", "suspended", 10.0, 40.0),
                     ("P1", "failed", 40.0, 50.0)]


def test_stated_age_of_a_hose_without_tag():
    _, found = ages("2020-01-01,P1,,500", "2020-04-10,P1,,failed")
    assert found == [("P1", "failed", 500.0, 600.0)]


def test_hoses_without_tag_do_not_share_their_age():
    _, found = ages("2020-01-01,P1,,500\n2020-06-01,P2,,1", "2020-04-10,P1,,failed")
    assert found[1][2] == 1.0


def test_carried_age_adds_to_the_age_at_which_the_records_begin():
    _, found = ages("2020-01-01,P1,A,\n2020-11-01,P3,A,",
                    "2020-04-10,P1,A,relocated\n2021-01-01,P3,A,failed")
    assert found[1] == ("P3", "failed", 130.0, 161.0)


def test_zero_days_of_a_used_hose_are_an_interval_from_its_age():
    con, found = ages("2020-01-01,P1,A,\n2020-06-01,P2,A,",
                      "2020-04-10,P1,A,relocated\n2020-06-01,P2,A,failed")
    assert found[1] == ("P2", "interval", 100.0, 100.0)
    assert rows(con, "select age_high_days from lives.lives order by life_id") == [
        (None,), (101.0,)]


def test_time_at_a_place_it_never_left_by_the_logs_counts_until_it_is_seen_elsewhere():
    con, found = ages("2020-01-01,P1,A,\n2020-04-10,P2,A,", "2020-07-01,P2,A,failed")
    assert found[1] == ("P2", "failed", 100.0, 182.0)
    assert rows(con, "select finding, service_point, hose_id from lives.findings") == [
        ("hose in two places", "P2", "A")]


def test_hose_whose_earlier_stay_has_no_start_is_a_finding():
    con, found = ages("2020-06-01,P2,A,", "2020-04-10,P1,A,relocated\n2020-07-01,P2,A,failed")
    assert found == [("P2", "failed", 0.0, 30.0)]
    assert rows(con, "select finding, service_point from lives.findings order by finding") == [
        ("earlier age unknown", "P2"), ("removal without installation", "P1")]
