"""How failures at the places of a class add up, as the page of a kind of hose tells it."""

import json
from urllib.parse import quote

import duckdb
import plotly
import pytest
from numpy.testing import assert_allclose

from dashboard.figures.recurrence import cumulative_figure
from dashboard.parts.kind import recurrence as parts_recurrence
from dashboard.queries import edition
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import Reader, words

CURVE = [{"age_days": 200.0 * k, "n_places": 9, "mean": 0.5 * k, "lower": 0.4 * k, "upper": 0.6 * k}
         for k in range(1, 9)]


def trend(**changed):
    return {"n_places": 12, "n_failures": 60, "place_years": 90.0, "shape": 1.3, "shape_lower": 1.1,
            "shape_upper": 1.5, "laplace_p_value": 0.02, "total_log_p_value": 0.0004} | changed


def said(curve, row):
    block = parts_recurrence.block("steam", curve, row, None)
    plain = json.loads(json.dumps(block, cls=plotly.utils.PlotlyJSONEncoder))
    return " ".join(words(plain))


def test_the_figure_starts_at_nothing_and_ends_with_the_curve():
    figure = cumulative_figure(CURVE)
    line = figure.data[1]
    assert_allclose([line.x[0], line.y[0], line.x[-1], line.y[-1]], [0, 0, 1600 / 365.25, 4.0])
    assert "9 places watched" in line.hovertext[-1]


@pytest.mark.parametrize(("changed", "wanted"), [
    ({}, "Failures come faster as a place ages: their number grows as age to the power 1.3 "
         "(1.1 to 1.5)"),
    ({"shape": 0.7, "shape_lower": 0.5, "shape_upper": 0.9}, "come more slowly as a place ages"),
    ({"shape_lower": 0.9}, "No trend beyond chance"),
    ({"shape_lower": None}, "No trend beyond chance"),
    ({"shape": None, "shape_lower": None, "shape_upper": None}, "Too few failures to tell"),
])
def test_a_trend_is_claimed_only_where_the_range_leaves_out_one(changed, wanted):
    assert wanted in said(CURVE, trend(**changed))


def test_counts_years_and_tests_are_told():
    text = said(CURVE, trend())
    assert "60 failures in 90.0 years at 12 places: one at a place in 1.5 years." in text
    assert "After 4 years a place has had 3.5 failures (2.8 to 4.2)." in text
    assert "MIL-HDBK-189: hardly ever made by chance" in text


@pytest.mark.parametrize(("curve", "row"), [
    ([], None), ([], trend(n_failures=0)), ([], trend()), (CURVE[:1], trend()),
    (CURVE, trend(laplace_p_value=None)),
])
def test_whatever_is_missing_the_block_speaks(curve, row):
    text = said(curve, row)
    assert "How failures at places of steam add up" in text
    assert "None" not in text
    assert "nan" not in text
    if row is None or not row["n_failures"]:
        assert "No failure on record" in text


def test_the_page_of_a_place_shows_its_line_and_its_machine(full):
    with full.app.server.app_context():
        place = edition.ask_one("select p.* from service_points as p join group_trends as t on "
                                "t.scope = 'line' and t.scope_name = p.line and t.site = p.site "
                                "where p.equipment is not null order by all limit 1")
    text = full.text("/places/" + quote(place["service_point"], safe=""))
    assert f"How failures add up at {place['line']}" in text
    assert f"How failures add up at {place['equipment']}" in text
    assert "All places of this machine, of whatever class" in text
    assert "All places of this line, of whatever class" in text
    assert "steady rate" in text


def test_a_line_of_the_places_of_one_machine_is_shown_once(tmp_path):
    path = make_edition(tmp_path, "full")
    with duckdb.connect(str(path)) as con:
        con.execute("update group_trends set n_places = 4")
        (name,) = con.execute("select p.service_point from service_points as p join group_trends "
                              "as t on t.scope = 'line' and t.scope_name = p.line and "
                              "t.site = p.site order by all limit 1").fetchall()[0]
    text = Reader(tmp_path).text("/places/" + quote(name, safe=""))
    assert "All places of this machine" in text
    assert "All places of this line" not in text


def test_a_place_of_no_group_shows_none(full):
    with full.app.server.app_context():
        place = edition.ask_one("select service_point from service_points where service_point not "
                                "in (select p.service_point from service_points as p join "
                                "group_trends as t on t.scope_name in (p.line, p.equipment)) "
                                "order by all limit 1")
    assert "How failures add up at" not in full.text(
        "/places/" + quote(place["service_point"], safe=""))


def test_the_page_of_a_kind_shows_its_class(full):
    text = full.text("/lives/homogeniser%20discharge/C-304-OP1")
    assert "How failures at places of homogeniser discharge add up" in text
    few = full.text("/lives/nitrogen%20transfer/C-304-OP1")
    assert "Too few failures to tell whether they come faster" in few
