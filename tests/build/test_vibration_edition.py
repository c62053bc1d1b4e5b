"""Life under vibration in the invented fleet, whose exponents, errors and lives are known."""

import numpy as np
import pytest

from etl.demo import generator
from tests.build.spoiled import copies, faulty

TABLES = ("vibration_summary", "vibration_constructions", "vibration_lives", "vibration_cells",
          "vibration_places", "vibration_choices", "service_points")


@pytest.fixture(scope="module")
def truth(tmp_path_factory):
    return generator().make_fleet(tmp_path_factory.mktemp("truth"))


@pytest.fixture
def con(edition_file):
    with copies(edition_file, TABLES) as con:
        yield con


def test_planted_exponents_lie_in_their_ranges(edition, truth):
    rows = edition.execute("select construction, exponent_lower, exponent, exponent_upper "
                           "from vibration_constructions").fetchall()
    assert len(rows) >= 6
    inside = [low <= truth["exponents"][name] <= high for name, low, _, high in rows]
    assert sum(inside) >= len(rows) - 1
    # Where two ranges lie apart, the order is the planted one.
    for name, low, _, _ in rows:
        for other, _, _, high in rows:
            if low > high:
                assert truth["exponents"][name] > truth["exponents"][other]


def test_the_error_of_a_reading_and_the_spread_of_places_are_found(edition):
    error, place, known = edition.execute(
        "select error_sd, place_sd, is_error_known from vibration_summary").fetchall()[0]
    assert known
    assert error == pytest.approx(0.15, abs=0.03)  # planted in the generator's looks
    assert place == pytest.approx(0.22, abs=0.06)  # the scenario's spread inside classes


def test_resonance_that_was_not_planted_stays_small(edition):
    low, high = edition.execute(
        "select resonance_lower, exponent_lower from vibration_summary").fetchall()[0]
    assert low < 0.3 * high


def test_chances_of_outlasting_come_true(edition, truth):
    life = {(row["application_class"], row["construction"]):
            (row["characteristic_life_days"], row["shape"])
            for row in truth["strata"] if row["mechanism"] == "vib_fatigue"}
    middle = truth["reference_vibration_mm_s_rms"]
    rows = edition.execute(
        "select application_class, c.construction, present_construction, chance, velocity_mm_s "
        "from vibration_choices as c join vibration_places using (service_point) "
        "where chance is not null").fetchall()
    said, came = [], []
    for group, name, present, chance, velocity in rows:
        own, other = (
            life[group, kind][0] * (velocity / middle[group]) ** -truth["exponents"][kind]
            for kind in (name, present))
        said.append(chance)
        came.append(own > other)
    said, came = np.array(said), np.array(came)
    assert said.size > 200
    assert came[said > 0.9].mean() > 0.85
    assert came[said < 0.1].mean() < 0.15


def test_nothing_is_shown_without_evidence(edition):
    thin, near, shown = edition.execute(
        """select count(*) filter (where b10_days is not null and (support < 1 or n_places < 3)),
            count(*) filter (where b10_days is not null
                and abs(ln(frequency_hz / natural_frequency_hz)) < 0.3), count(b10_days)
        from vibration_cells""").fetchall()[0]
    assert (thin, near) == (0, 0)
    assert shown > 50


@pytest.mark.parametrize(("check", "statement"), [
    ("vibration_numbers", "update results.vibration_cells set reason = null where reason is not "
     "null and rowid = (select min(rowid) from results.vibration_cells where reason is not null)"),
    ("vibration_numbers", "update results.vibration_cells set b10_days = 2 * b10_days_upper"),
    ("vibration_numbers", "update results.vibration_choices set chance = 1.1 "
     "where chance is not null"),
    ("vibration_numbers", "update results.vibration_choices set life_ratio = 99 "
     "where chance is not null"),
    ("vibration_numbers", "update results.vibration_lives set b10_days = -1"),
    ("vibration_numbers", "update results.vibration_constructions set shape = 0"),
    ("vibration_numbers", "update results.vibration_places set velocity_mm_s = 1e6"),
    ("vibration_summary", "delete from results.vibration_summary"),
    ("vibration_summary", "update results.vibration_summary set words = 'x'"),
    ("vibration_summary", "update results.vibration_summary set n_lives = n_lives + 1"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, statement):
    assert faulty(con, check) == []
    con.execute(statement)
    assert len(faulty(con, check)) >= 1
