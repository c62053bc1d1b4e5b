"""Screens of places: what the register, the latest look and the catalogue allow, and no more."""

import pytest

from etl.build.screens_table import add_screens
from etl.load.warehouse import run_sql
from tests.sql.tiny import build, rows

HOSE = ("construction,dn,core_alloy,mass_kg_per_m,bending_stiffness_n_m2,"
        "min_bend_radius_dynamic_mm,rated_pressure_bar\nC,50,316L,3.0,30.375,250,40")
PLACE = {"service_point": "P1", "application_class": "steam", "dn": "50", "pressure_bar": "20",
         "temperature_c": "175", "flow_velocity_m_s": "5", "live_length_mm": "450",
         "bend_radius_mm": "500", "vibration_mm_s_rms": "9", "vibration_hz": "25"}
QUERY = ("select screen, compared_with, value, limit_value, ratio, rank, n_ranked "
         "from results.place_screens where service_point = 'P1' order by screen, compared_with")


def screened(*places, inspections="inspected_on,service_point,condition", construction="C"):
    heads = ",".join(PLACE)
    lines = [",".join(place.values()) for place in places]
    con = build(
        service_points="\n".join([heads, *lines]), constructions=HOSE, inspections=inspections,
        installations="installed_on,service_point,hose_id,construction\n" + "\n".join(
            f"2020-01-01,{place['service_point']},H{n},{construction}"
            for n, place in enumerate(places)))
    for name in ("10_cells", "30_places", "66_place_duty"):
        run_sql(con, f"fit/{name}")
    add_screens(con)
    run_sql(con, "results/55_place_screens")
    return con


def by_name(con):
    return {(row[0], row[1]): row[2:] for row in rows(con, QUERY)}


def test_every_screen_of_a_place_that_is_fully_known():
    found = by_name(screened(PLACE))
    # Worked values as in the tests of the formulas: ISO 10380 table, Energy Institute 2008, EJMA.
    assert found["rating", "rating left at temperature"][:3] == pytest.approx(
        (20, 25.8, 20 / 25.8))
    assert found["bend", "least radius in motion"][:3] == pytest.approx((500, 250, 2.0))
    assert found["vibration", "concern"] == pytest.approx((9, 7.633636, 9 / 7.633636, 1, 1))
    assert found["vibration", "single level, peak"][1] == pytest.approx(12.7 / 2**0.5)
    liner = [row for name, row in found.items() if "liner asked" in name[1] and "liquid" in name[1]]
    assert liner[0][1] == pytest.approx(2 * 50 / 25.4 * 0.3048)
    assert len(found) == 1 + 1 + 1 + 4 + 4


def test_frequency_carries_its_range_and_no_verdict():
    con = screened(PLACE)
    (value, lower, upper, limit, cannot), = rows(con, (
        "select value, lower, upper, limit_value, cannot_tell from results.place_screens "
        "where screen = 'frequency'"))
    assert lower < value < upper
    assert upper == pytest.approx(55.952878 * 1.3**0.5, rel=1e-6)  # empty: beam theory
    assert limit == 25
    assert "without a verdict" in cannot


@pytest.mark.parametrize(("gone", "screens"), [
    ("pressure_bar", {"bend", "flow", "frequency", "vibration"}),
    ("temperature_c", {"bend", "flow", "frequency", "vibration"}),
    ("bend_radius_mm", {"flow", "frequency", "rating", "vibration"}),
    ("flow_velocity_m_s", {"bend", "frequency", "rating", "vibration"}),
    ("live_length_mm", {"bend", "flow", "rating", "vibration"}),
    ("vibration_mm_s_rms", {"bend", "flow", "frequency", "rating"}),
    ("vibration_hz", {"bend", "flow", "rating", "vibration"}),
])
@pytest.mark.parametrize("instead", ["", "0"])
def test_what_is_not_known_is_not_screened(gone, screens, instead):
    if (gone, instead) == ("temperature_c", "0"):
        screens = screens | {"rating"}  # zero degrees is a temperature
    found = by_name(screened(PLACE | {gone: instead}))
    assert {name[0] for name in found} == screens


def test_above_the_derating_table_there_is_no_rating():
    assert ("rating", "rating left at temperature") not in by_name(
        screened(PLACE | {"temperature_c": "700"}))


def test_a_construction_outside_the_catalogue_is_not_guessed():
    found = by_name(screened(PLACE, construction="Z"))
    assert {name[0] for name in found} == {"flow", "vibration"}


def test_the_latest_measurement_counts():
    looks = ("inspected_on,service_point,condition,vibration_mm_s_rms,vibration_hz\n"
             "2021-01-01,P1,good,3,25\n2022-01-01,P1,good,4,50\n2023-01-01,P1,worn,,")
    found = by_name(screened(PLACE, inspections=looks))
    assert found["vibration", "concern"][:2] == pytest.approx((4, 10.573498))


def test_a_bump_test_on_the_present_hose_goes_before_the_beam():
    looks = ("inspected_on,service_point,condition,natural_frequency_hz\n"
             "{day},P1,good,31.5\n2023-01-01,P1,good,-4")
    found = by_name(screened(PLACE, inspections=looks.format(day="2022-01-01")))
    assert found["frequency", "main frequency of the vibration"][0] == 31.5
    before = by_name(screened(PLACE, inspections=looks.format(day="2010-01-01")))
    assert before["frequency", "main frequency of the vibration"][0] != 31.5


def test_places_are_ranked_by_velocity_over_the_line():
    calm = PLACE | {"service_point": "P0", "vibration_mm_s_rms": "8"}
    slow = PLACE | {"service_point": "P2", "vibration_hz": "10"}
    silent = PLACE | {"service_point": "P3", "vibration_mm_s_rms": ""}
    found = by_name(screened(calm, PLACE, slow, silent))
    assert found["vibration", "concern"][3:] == (2, 3)
    assert found["vibration", "problem"][3:] == (None, None)


def test_no_place_at_all_in_service():
    con = build(service_points="service_point,application_class\nP1,steam")
    for name in ("10_cells", "30_places", "66_place_duty"):
        run_sql(con, f"fit/{name}")
    add_screens(con)
    run_sql(con, "results/55_place_screens")
    assert rows(con, QUERY) == []
