"""The page about vibration says what the records carry, and stays blank where they do not."""

import math

import numpy as np
import pytest

from dashboard import words
from dashboard.figures.vibration import life_map, life_over_velocity
from dashboard.words import vibration as told
from tests.dashboard.edition_vibration import THIN, _cells, _lives
from tests.dashboard.test_absences import NOT_WORDS


def plain(text):
    return " ".join(text.replace(words.SPACE, " ").split())


@pytest.fixture(scope="module")
def page(full):
    return plain(full.text("/vibration"))


def test_the_first_sentence_gives_the_effect_with_its_range(page):
    # 2 ** -1.5 with 2 ** -2.0 and 2 ** -1.0: a power law, nothing else.
    assert "Where it shakes twice as hard, hoses live 0.35 times as long (0.25 to 0.50)." in page
    assert "140 hoses, 61 failed by vibration" in page
    assert "11 of unknown cause counted as 6" in page


def test_every_number_stands_with_range_and_counts(page):
    assert "84 % the next hose: 66 %" in page
    assert "2.2× (0.80 to 5.9)" in page
    assert "both fitted at 4 places" in page


def test_blank_is_said_with_its_reason(page):
    assert f"{THIN} (5 of 20 cells)" in page
    assert "No part of the map has evidence." in page
    assert "no hose of it above 9 mm/s" in page
    assert "Blank means no evidence, not safety." in page
    assert "its failures do not fit the law" in page


def test_doubts_are_said_plainly(page):
    assert "Stiff hoses stand at places that are worse" in page
    assert "cannot be told from 7 repeats; twenty would do" in page
    assert "factor 1.16: 1.4 (1.0 to 2.4)" in page  # exp(0.15) = 1.16
    assert "9 hoses had been running before the records began" in page


def test_cautions_and_deference_stand_on_the_page(page, empty):
    for text in (page, plain(empty.text("/vibration"))):
        assert "Not a vibration limit." in text
        assert "Let a qualified person decide, by local codes" in text


def test_a_fleet_without_readings_gets_words_and_no_number(empty):
    text = plain(empty.text("/vibration"))
    assert "cannot be told yet" in text
    assert "times as long" not in text
    assert "%" not in text.split("Not a vibration limit.")[0]


def test_an_address_is_followed_or_refused_in_words(full):
    with full.app.server.app_context():
        from dashboard.queries import vibration as asked
        second = asked.classes()[1]["application_class"]
        name = asked.places(second)[0]["service_point"]
    assert f"At {name}:" in plain(full.text("/vibration?place=" + name.replace(" ", "%20")))
    assert "“nowhere” is no place" in plain(full.text("/vibration?place=nowhere"))
    assert "No such class vibrates" in plain(full.text("/vibration?class=x"))


@pytest.mark.parametrize("state", ["full", "hostile", "empty"])
def test_nothing_absent_shows_as_a_program_would_say_it(state, request):
    text = request.getfixturevalue(state).text("/vibration")
    assert not NOT_WORDS.search(text)


def test_the_map_draws_nothing_where_no_number_stands():
    cells = _cells("class", "kind", is_blank=False)
    figure = life_map(cells, [])
    level = np.array(figure.data[0].z)
    assert np.isnan(level).sum() == sum(row["b10_days"] is None for row in cells)
    life = np.array([row["b10_days"] or math.nan for row in cells]).reshape(level.shape)
    # Band 0 is under 100 days, band 3 is 1,000 days and more.
    assert (level[life < 100] == 0).all()
    assert (level[life >= 1000] == 3).all()


def test_a_line_ends_where_its_hoses_end():
    figure = life_over_velocity(_lives("class", "A", 0) + _lives("class", "B", 1)[:3])
    ends = [max(trace.x) for trace in figure.data if trace.fill is None]
    assert ends == [14.0, 8.0]


def test_the_bands_cover_every_life_once():
    ends = [end for end, _ in told.BANDS]
    assert ends == sorted(ends)
    assert math.isinf(ends[-1])


def test_a_crowded_map_has_a_dot_for_places_that_lie_together(full, monkeypatch):
    from dashboard.queries import vibration as asked

    with full.app.server.app_context():
        (group, *_) = (row["application_class"] for row in asked.classes())
        apart = asked.dots(group)
        monkeypatch.setattr(asked, "FEW_DOTS", 0)
        monkeypatch.setattr(asked, "DOTS_APART", 1)
        together = asked.dots(group)
        monkeypatch.setattr(asked, "SUGGESTED", 2)
        assert len(asked.places(group)) == 2
    assert all(row["service_point"] and row["n_places"] == 1 for row in apart)
    assert len(together) < len(apart)
    for what in ("n_places", "n_lives", "n_failures"):
        assert sum(row[what] for row in together) == sum(row[what] for row in apart)
    for row in together:
        assert (row["service_point"] is None) is (row["n_places"] > 1)
