"""The track record says whether forecasts held, where they were wrong, and how to make one."""

import numpy as np
import pytest

from dashboard import words
from dashboard.figures.track import forecasts_and_outcomes, is_inside
from dashboard.parts.track import told as parts_track
from dashboard.queries import track as asked
from tests.dashboard.edition_track import track


def plain(text):
    return text.replace(words.SPACE, " ")


@pytest.fixture(scope="module")
def page(full):
    return plain(full.text("/track-record"))


def test_the_first_sentence_says_how_many_held_and_against_what(page):
    # Twelve month ends, the last one's month is over, one outcome twice what was expected.
    assert "Of the last 12 monthly forecasts, 11 held" in " ".join(page.split())
    assert "3 % too high" in page
    assert "nearer than last year's average in 9 of 12" in page


def test_failures_of_the_method_are_said_plainly(page, full):
    assert "1 of 12 on view missed their range" in page
    assert ("Beaten, beyond chance: by a constant rate over twelve months (application classes, "
            "lines, parts, sites).") in page
    assert ("Over twelve months, for the whole fleet, a constant rate came nearer; too few spans "
            "that do not overlap (1)") in page
    assert "come out unfailed as often as they did before" in page
    year = plain(full.text("/track-record?months=12"))
    assert "12 % too high" in year
    assert "range not known: too few spans that do not overlap (1)" in year
    assert "Neighbouring spans overlap" in year


def test_chances_and_flags_stand_beside_what_came(page):
    assert "Flagged as failing 2.4 times as fast as like places" in page
    assert "2.1 times as often (1.5 to 2.7)" in page
    assert "9 of the 12 flagged long enough ago to judge failed more often since" in page
    assert "no like place" in page
    assert "30 % failed (28 to 32 %)" in page


def test_choices_of_the_address_are_followed_or_refused(full):
    site = plain(full.text("/track-record?months=3&of=site%3ANorth"))
    assert "Failures within three months, North" in site
    wrong = plain(full.text("/track-record?months=5&of=x&basis=y"))
    assert "a choice that is not offered" in wrong
    assert "Failures within one month, whole fleet" in wrong


def test_an_edition_without_a_record_says_how_to_make_one(empty):
    text = plain(empty.text("/track-record"))
    assert "not made yet" in text
    assert "braidlife load --track-record" in text


def test_a_record_that_is_being_made_says_how_far_it_is(empty, monkeypatch):
    monkeypatch.setattr(asked, "track_record_progress", lambda _: ("March 2025", 5, 24))
    text = plain(empty.text("/track-record"))
    assert "being made" in text
    assert "Forecasting from March 2025, 5 of 24 month ends" in text
    assert "braidlife load" not in text
    answer = empty.call("..track-record-making", {"track-record-look.n_intervals": 1})
    assert answer["track-record-look"]["disabled"] is False
    monkeypatch.setattr(asked, "track_record_progress", lambda _: None)
    answer = empty.call("..track-record-making", {"track-record-look.n_intervals": 2})
    assert answer["track-record-look"]["disabled"] is True


@pytest.mark.parametrize("state", ["full", "empty", "hostile"])
@pytest.mark.parametrize("query", ["", "?months=12", "?of=application_class%3ACIP%20supply"])
def test_no_absence_is_shown_as_a_number(request, state, query):
    text = request.getfixturevalue(state).text(f"/track-record{query}")
    for word in ("nan", "None", "NaT", "could not be shown"):
        assert word not in text.replace("Nan", "")


@pytest.mark.parametrize("table", ["track_forecasts", "track_scores", "track_flags"])
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_every_table_can_be_taken_away(full, table, kind):
    answer = full.client.get(f"/download/{table}.{kind}")
    assert answer.status_code == 200
    assert len(answer.get_data()) > 200


def test_the_figure_marks_what_fell_outside_by_shape_and_colour():
    rows = [row for row in track([])["track_forecasts"]
            if row["scope"] == "fleet" and row["horizon_months"] == 3]
    figure = forecasts_and_outcomes(rows)
    inside, outside = figure.data[-2:]
    over = [row for row in rows if row["observed"] is not None]
    assert len(outside.x) == sum(not is_inside(row) for row in over) == 1
    assert len(inside.x) == len(over) - 1
    assert inside.marker.symbol != outside.marker.symbol
    assert inside.marker.color != outside.marker.color
    low, high = figure.layout.yaxis.range
    shown = [row[name] for row in rows for name in ("lower", "upper", "observed") if row[name]]
    assert low < min(shown)
    assert high > max(shown)
    assert np.isfinite([low, high]).all()


@pytest.mark.parametrize(("n_inside", "n", "poor"), [
    (24, 24, False), (20, 24, False), (18, 24, True), (1, 1, False), (0, 3, True)])
def test_fewer_hits_than_a_fair_range_allows_call_for_attention(n_inside, n, poor):
    assert parts_track.is_poor(n_inside, n) is poor
