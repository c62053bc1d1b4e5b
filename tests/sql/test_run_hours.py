"""Run hours come from the meter where it covers the life, else from the declared duty; cycles only
from a meter."""

from __future__ import annotations

import pytest

from tests.sql.tiny import build, refused, rows

PLACE = ("service_point,application_class,equipment,run_hours_per_year,records_from\n"
         "P1,steam,M1,3652.5,")
STAY = "installed_on,service_point,hose_id\n2020-01-11,P1,A"
READINGS = "equipment,read_on,clock,reading\n"


def hours(usage: str, reason: str = "failed", removed: str = "2020-02-20", place: str = PLACE,
          seen: str = ""):
    con = build(service_points=place, installations=STAY, usage=usage,
                replacements="removed_on,service_point,hose_id,reason,last_seen_good_on\n"
                             f"{removed},P1,A,{reason},{seen}")
    return rows(con, "select run_hours_entry, run_hours_low, run_hours_high, run_hours_origin "
                     "from lives.lives")


def test_hours_are_taken_between_readings():
    found = hours(READINGS + "M1,2020-01-01,run_hours,1000\nM1,2020-01-21,run_hours,1200\n"
                             "M1,2020-03-01,run_hours,1400")
    assert found == [(0.0, 100.0 + 150.0, 250.0, "meter")]


def test_hours_of_an_interval_have_two_ends():
    found = hours(READINGS + "M1,2020-01-01,run_hours,1000\nM1,2020-03-11,run_hours,1700",
                  reason="found_failed", seen="2020-01-31")
    assert found == [(0.0, 200.0, 400.0, "meter")]


def test_hours_of_a_suspension_have_one_end():
    found = hours(READINGS + "M1,2020-01-01,run_hours,1000\nM1,2020-03-11,run_hours,1700",
                  reason="planned")
    assert found == [(0.0, 400.0, None, "meter")]


def test_meter_of_the_place_itself_goes_before_that_of_the_machine():
    usage = ("equipment,service_point,read_on,clock,reading\n,P1,2020-01-01,run_hours,0\n"
             ",P1,2020-03-11,run_hours,70\nM1,,2020-01-01,run_hours,0\nM1,,2020-03-11,run_hours,700")
    assert hours(usage) == [(0.0, 40.0, 40.0, "meter")]


def test_hours_at_entry_when_the_records_begin_later():
    place = PLACE + "2020-01-31"
    found = hours(READINGS + "M1,2020-01-01,run_hours,1000\nM1,2020-03-11,run_hours,1700",
                  place=place)
    assert found == [(200.0, 400.0, 400.0, "meter")]


@pytest.mark.parametrize(("last", "expected"), [
    pytest.param("2020-02-10", 400.0, id="ten days after the last reading"),
    pytest.param("2019-11-22", 400.0, id="ninety days after it"),
])
def test_hours_run_on_after_the_last_reading_at_the_pace_of_the_year(last, expected):
    usage = READINGS + f"M1,2019-11-12,run_hours,0\nM1,{last},run_hours,"
    days = {"2020-02-10": 90, "2019-11-22": 10}[last]
    found = hours(usage + str(days * 10))
    assert found == [(0.0, expected, expected, "meter")]


def test_beyond_ninety_days_the_declared_duty_is_used_and_marked():
    found = hours(READINGS + "M1,2019-11-01,run_hours,0\nM1,2019-11-21,run_hours,999")
    assert found == [(0.0, 400.0, 400.0, "declared duty")]


def test_before_the_first_reading_the_declared_duty_is_used():
    found = hours(READINGS + "M1,2020-02-01,run_hours,0\nM1,2020-03-21,run_hours,999")
    assert found == [(0.0, 400.0, 400.0, "declared duty")]


def test_without_meter_and_duty_there_are_no_hours():
    assert hours(READINGS, place="service_point,application_class\nP1,steam") == [
        (None, None, None, None)]


def test_cycles_are_no_hours():
    found = hours(READINGS + "M1,2020-01-01,cycles,1000\nM1,2020-03-11,cycles,1700")
    assert found == [(0.0, 400.0, 400.0, "declared duty")]


def test_hours_and_cycles_of_one_machine_are_each_taken_from_their_own_meter():
    con = build(
        service_points=PLACE, installations=STAY,
        replacements="removed_on,service_point,hose_id,reason\n2020-02-20,P1,A,failed",
        usage=READINGS + "M1,2020-01-01,run_hours,0\nM1,2020-03-11,run_hours,70\n"
                         "M1,2020-01-01,cycles,5000\nM1,2020-03-11,cycles,12000")
    assert rows(con, "select run_hours_low, run_hours_origin, cycles_entry, cycles_low, "
                     "cycles_high from lives.lives") == [(40.0, "meter", 0.0, 4000.0, 4000.0)]


def test_a_place_counts_its_own_cycles_while_its_machine_counts_the_hours():
    con = build(
        service_points=PLACE, installations=STAY,
        usage="equipment,service_point,read_on,clock,reading\n"
              ",P1,2020-01-11,cycles,0\n,P1,2025-01-01,cycles,900\n"
              "M1,,2020-01-11,run_hours,0\nM1,,2025-01-01,run_hours,70")
    assert rows(con, "select run_hours_low, cycles_low, cycles_high, kind from lives.lives") == [
        (70.0, 900.0, None, "suspended")]


def test_cycles_run_on_for_ninety_days_and_are_unknown_beyond():
    """Nothing is declared for them, as there is for hours."""
    usage = READINGS + "M1,2019-11-01,cycles,0\nM1,2019-11-{},cycles,{}"
    for day, reading, expected in ((22, 210, 300.0), (21, 200, None)):
        con = build(service_points=PLACE, installations="installed_on,service_point\n2020-01-21,P1",
                    replacements="removed_on,service_point,reason\n2020-02-20,P1,failed",
                    usage=usage.format(day, reading))
        assert rows(con, "select cycles_low from lives.lives") == [(expected,)]


def test_cycles_are_carried_with_the_hose_and_an_exchanged_counter_is_a_finding():
    con = build(
        service_points=PLACE + "\nP2,steam,M1,,",
        installations=STAY + "\n2020-03-01,P2,A",
        replacements="removed_on,service_point,hose_id,reason\n2020-02-20,P1,A,relocated\n"
                     "2020-03-11,P2,A,failed",
        usage=READINGS + "M1,2020-01-01,cycles,1000\nM1,2020-02-20,cycles,1500\n"
                         "M1,2020-03-01,cycles,20\nM1,2020-03-11,cycles,120")
    assert rows(con, "select cycles_entry, cycles_low from lives.lives order by life_id") == [
        (0.0, 400.0), (400.0, 500.0)]
    assert rows(con, "select finding, detail from lives.findings") == [
        ("meter exchanged", "The meter of M1 fell to 20.0; the cycles since the reading before are"
                            " taken from its earlier pace.")]


@pytest.mark.parametrize("reading", ["1e300", "-1e300", "99999999999999999999", "1e13"])
def test_a_reading_that_no_meter_shows_is_refused_and_the_others_count(reading):
    con = build(
        service_points=PLACE, installations=STAY,
        replacements="removed_on,service_point,hose_id,reason\n2020-02-20,P1,A,failed",
        usage=READINGS + f"M1,2020-01-01,run_hours,0\nM1,2020-02-01,run_hours,{reading}\n"
                         "M1,2020-03-11,run_hours,70")
    assert refused(con) == [("usage", 3, "reading", reading, "is too large to be true")]
    assert rows(con, "select run_hours_low from lives.lives") == [(40.0,)]


def test_exchanged_meter_takes_the_pace_before_and_is_a_finding():
    con = build(
        service_points=PLACE, installations=STAY,
        replacements="removed_on,service_point,hose_id,reason\n2020-02-20,P1,A,failed",
        usage=READINGS + "M1,2020-01-01,run_hours,1000\nM1,2020-01-11,run_hours,1100\n"
                         "M1,2020-01-31,run_hours,50\nM1,2020-02-20,run_hours,450")
    assert rows(con, "select run_hours_low, run_hours_origin from lives.lives") == [
        (600.0, "meter")]
    assert rows(con, "select finding, happened_on::varchar, source_row from lives.findings") == [
        ("meter exchanged", "2020-01-31", 4)]


def test_meter_exchanged_before_any_pace_is_known_counts_what_the_new_one_shows():
    found = hours(READINGS + "M1,2020-01-11,run_hours,1100\nM1,2020-01-31,run_hours,50\n"
                             "M1,2020-02-20,run_hours,450")
    assert found == [(0.0, 450.0, 450.0, "meter")]


def test_hours_are_carried_with_the_hose():
    con = build(
        service_points=PLACE + "\nP2,steam,M1,,",
        installations=STAY + "\n2020-03-01,P2,A",
        replacements="removed_on,service_point,hose_id,reason\n2020-02-20,P1,A,relocated\n"
                     "2020-03-11,P2,A,failed",
        usage=READINGS + "M1,2020-01-01,run_hours,1000\nM1,2020-03-11,run_hours,1700")
    assert rows(con, "select run_hours_entry, run_hours_low, run_hours_high from lives.lives "
                     "order by life_id") == [(0.0, 400.0, None), (400.0, 500.0, 500.0)]
