"""The sheet of rough physics fills in what is on record, works out what it can, judges nothing."""

from urllib.parse import quote

import pytest

from dashboard import words
from dashboard.parts import physics as parts_physics
from dashboard.words import physics as words_physics
from tests.dashboard.edition_fleet import Row, places


def plain(text):
    return " ".join(text.replace(words.SPACE, " ").split())


@pytest.fixture(scope="module")
def page(full):
    place = quote(places()[0]["service_point"])
    return plain(full.text(f"/physics?place={place}"))


def test_a_place_is_worked_out_from_what_is_on_record(page):
    # Beam theory and the table of ISO 10380 as in the tests of the formulas.
    assert "First natural frequency, empty" in page
    assert "56.0 Hz" in page
    assert "Rating left 25.8 bar" in page
    assert "10.6" not in page  # a level at 50 Hz; the place shakes at 25
    assert "7.63 mm/s" in page


def test_what_lacks_its_inputs_is_left_out(full):
    text = plain(full.text("/physics"))
    assert text.count(words_physics.NOTHING) >= 4
    assert "natural frequency, empty" not in text


def test_figures_typed_go_first_and_nonsense_counts_as_nothing(full):
    text = plain(full.text("/physics?bend_radius_mm=250&offset_mm=25&angle_deg=60&tip_mm=twelve"))
    assert "195 mm" in text  # length for the offset, trade form
    assert "158.8" in text or "159 mm" in text
    assert "262 mm" in text  # pi 250 60 / 180


def test_speeds_of_a_machine_become_bands(full):
    text = plain(full.text("/physics?natural_hz=40&low_rpm=1480&high_rpm=2960&n_vanes=5"))
    assert "From 40.0 Hz to running speed 24.7 to 49.3 Hz; amplitude there 10.0 to 25.0" in text
    assert ") 0 % customary: 20 %" in text  # the band holds it
    assert "246.7 to 493.3 Hz 83.8 %" in text or "246.7 to 493.3 Hz 84 %" in text


def test_every_line_has_source_and_status_and_every_subject_what_it_cannot_tell(page):
    for subject in words_physics.FIELDS:
        assert words_physics.CANNOT[subject] in page
    assert "from memory" in page
    assert "second-hand copy" in page
    assert words_physics.CAUTION[0] in page


def test_an_unknown_place_says_so(full):
    assert "has no hose on record now" in full.text("/physics?place=nowhere")


def test_what_the_register_calls_otherwise_is_found():
    duty: Row = {"dn": 50, "displacement_mm": 12, "bending_stiffness_n_m2": 30}
    found = parts_physics.from_register(duty)
    assert (found["dn_mm"], found["offset_mm"], found["bending_stiffness"]) == (50, 12, 30)
    assert parts_physics.from_register({})["density_kg_m3"] is None
