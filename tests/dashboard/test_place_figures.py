"""One place against like places: the survival figure and the strip of its peers."""

import json

import plotly
import pytest
from numpy.testing import assert_allclose

from dashboard.figures.place import survival_here
from dashboard.parts import place_href
from dashboard.parts.place import evidence
from dashboard.queries import place as asked
from tests.dashboard.edition_maker import tables
from tests.dashboard.page_reader import found, words


def curve(scale, end=2000.0, n=21):
    rows = []
    for k in range(n):
        age = end * k / (n - 1)
        rows.append({"age_days": age} | {
            f"survival{name}": 2.0 ** (-age / (scale * factor))
            for name, factor in (("", 1.0), ("_lower", 0.8), ("_upper", 1.25))})
    return rows


def place(**changed):
    return {"relative_rate": 2.5, "relative_rate_lower": 1.6, "relative_rate_upper": 3.4,
            "observed_failures": 18, "failures_expected_so_far": 4.2, "n_failures": 18,
            "is_failure_prone": True} | changed


def plain(component):
    return json.loads(json.dumps(component, cls=plotly.utils.PlotlyJSONEncoder))


def drawn(figure, dash):
    return [t for t in figure.data if t.mode == "lines" and t.line.dash == dash]


def test_this_place_is_drawn_with_its_range_and_ticks_lie_on_its_curve():
    figure = survival_here(curve(400.0), curve(150.0, 600.0), age_now=100.0,
                           failed_at=[300.0, 150.0], is_prone=True)
    assert len(drawn(figure, "dot")) == 2
    marks = next(t for t in figure.data if t.mode == "markers")
    assert list(marks.x) == [150.0, 300.0]
    assert_allclose(marks.y, [0.5, 0.25], rtol=2e-3)
    assert "here: 100\xa0% still run" in drawn(figure, "dash")[0].hovertext[0]
    assert {note.text for note in figure.layout.annotations} == {
        "like places", "this place", "hose now"}


def test_the_axis_ends_where_nearly_all_have_failed_but_holds_every_failure():
    short = survival_here(curve(100.0), [], age_now=None, failed_at=[], is_prone=False)
    assert 600.0 <= short.layout.xaxis.range[1] < 900.0
    late = survival_here(curve(100.0), [], age_now=None, failed_at=[1700.0], is_prone=False)
    assert late.layout.xaxis.range[1] == 1700.0


def test_without_a_rate_of_its_own_the_ticks_lie_on_the_curve_of_like_places():
    figure = survival_here(curve(400.0), [], age_now=None, failed_at=[400.0], is_prone=False)
    marks = next(t for t in figure.data if t.mode == "markers")
    assert_allclose(marks.y, [0.5])
    assert [note.text for note in figure.layout.annotations] == ["like places"]


@pytest.mark.parametrize("most", [240, 3, 1])
def test_a_strip_has_few_dots_and_counts_all_slower_places(full, monkeypatch, most):
    monkeypatch.setattr(asked, "MOST_PEERS", most)
    with full.app.server.app_context():
        of_class = [row for row in tables("full")["ranking"] if row["relative_rate"] is not None]
        classes = {p["service_point"]: p["application_class"]
                   for p in tables("full")["service_points"]}
        for own in of_class[::7]:
            name, rate = own["service_point"], own["relative_rate"]
            others = sorted(
                row["relative_rate"] for row in of_class
                if classes[row["service_point"]] == classes[name] and row["service_point"] != name)
            found_here = asked.peers(asked.one(name))
            assert len(found_here) <= most
            assert {(row["n_others"], row["n_slower"]) for row in found_here} == (
                {(len(others), sum(rate_of < rate for rate_of in others))})
            if most >= len(others):
                assert [row["relative_rate"] for row in found_here] == others


def test_the_standing_counts_the_slower_places():
    assert "Faster than 2 of 4 like places." in evidence.standing(
        place(relative_rate=1.05), [{"n_others": 4, "n_slower": 2}])


def test_the_counts_alone_stand_beside_the_rate_drawn_towards_one():
    peers = [{"service_point": f"P{k}", "relative_rate": 0.6 + 0.2 * k, "n_others": 5,
              "n_slower": 5} for k in range(5)]
    strip = plain(evidence.strip(place(), peers))
    assert "By the counts alone 4.3 times (diamond)." in " ".join(words(strip))
    titles = [span.get("title", "") for span in found(strip, "Span")]
    assert "as counted: 4.3 times" in titles
    assert sum(title.startswith("P") for title in titles) == 5


@pytest.mark.parametrize("changed", [
    {"failures_expected_so_far": 0.01}, {"failures_expected_so_far": None},
    {"observed_failures": None}])
def test_too_little_expected_gives_words_and_no_tick(changed):
    strip = plain(evidence.strip(place(**changed), []))
    text = " ".join(words(strip))
    assert "Too little expected so far" in text
    assert "Faster than" not in text
    assert not any("as counted" in span.get("title", "") for span in found(strip, "Span"))


def test_the_page_shows_strip_survival_and_their_method(full):
    name = tables("full")["service_points"][0]["service_point"]
    text = full.text(place_href(name))
    assert "of 9 like places" in text
    assert "The law of the kind at the place's own rate of failing." in text
