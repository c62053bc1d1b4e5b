"""Lives: the matrix and one kind of hose, as the application answers them."""

import pytest
from numpy.testing import assert_allclose

from dashboard import parts_compare, parts_lives, words_lives
from tests.dashboard.page_reader import found, words

CELL = "/lives/homogeniser%20discharge/C-304-OP1"


def fit(application_class="a", construction="x", b10=100.0, spread=1.5, n=6):
    row = {"application_class": application_class, "construction": construction,
           "mechanism": "all", "n_failures": n, "n_suspensions": 4, "status": "ok"}
    for name in words_lives.COLUMNS.values():
        row |= {f"{p}{name}{s}": b10 * f for p in ("", "pooled_")
                for s, f in (("", 1.0), ("_lower", 1 / spread), ("_upper", spread))}
    return row


def test_the_matrix_has_a_cell_with_counts_for_every_kind(full):
    cells = [link for link in found(full.layout("/lives"), "Link")
             if link.get("className") == "matrix-cell"]
    with full.app.server.app_context():
        from dashboard.queries import lives as asked
        fits = asked.matrix("all")
    assert len(cells) == len(fits) == 24
    for cell, row in zip(cells, fits, strict=True):
        assert words_lives.evidence(row) in cell["title"]
        assert words_lives.ranged(row, "b10", "pooled") in cell["title"]


def test_b10_is_never_shown_without_saying_that_it_is_no_safe_life(full):
    for address in ("/lives", CELL):
        assert "B10 is a planning figure, never a safe life." in full.text(address)


def test_the_address_chooses_measure_mechanism_and_estimate(full):
    text = full.text("/lives?measure=shape&mechanism=braid_wear&estimate=alone")
    assert "Shape by application class and construction" in text
    assert "Braid wear" in text
    assert "each kind by itself" in text


def test_an_unknown_choice_is_said_and_the_usual_one_shown(full):
    text = full.text("/lives?measure=speed")
    assert "asks for a choice that is not offered" in text
    assert "B10 by application class" in text


def test_any_failure_has_no_single_pooled_shape(full):
    assert words_lives.NO_SINGLE_SHAPE in full.text("/lives?measure=shape")


def test_a_kind_without_a_hose_says_so():
    table = parts_lives.matrix([fit("a", "x"), fit("b", "y")], "b10", "pooled", "all")
    text = words(table.to_plotly_json() | {"props": _plain(table)})
    assert text.count("no hose yet") == 2


def _plain(component):
    import json

    import plotly
    return json.loads(json.dumps(component, cls=plotly.utils.PlotlyJSONEncoder))["props"]


@pytest.mark.parametrize(("n", "name"), [(0, "none"), (1, "some"), (4, "some"), (5, "strong")])
def test_a_dot_is_filled_paler_or_hollow_by_its_failures(n, name):
    table = _plain(parts_lives.matrix([fit(n=n)], "b10", "pooled", "all"))
    drawn = [span["className"] for span in found({"props": table}, "Span")
             if str(span.get("className", "")).startswith("interval")]
    assert name in drawn[0].split()


def test_short_lived_needs_the_whole_range_below_the_middle_of_its_class():
    fits = [fit("a", "x", 50.0), fit("a", "y", 100.0), fit("a", "z", 120.0), fit("b", "x", 1.0)]
    assert parts_lives.short_lived(fits, "b10", "pooled") == {("a", "x")}
    assert parts_lives.short_lived([fit("a", "x", 90.0), *fits[1:]], "b10", "pooled") == set()
    assert parts_lives.short_lived(fits, "shape", "pooled") == set()


def test_the_scale_holds_every_estimate():
    fits = [fit("a", "x", 3.0), fit("a", "y", 9000.0), fit("a", "z", 70.0, spread=50.0)]
    axis = parts_lives.matrix_axis(fits, "b10", "pooled")
    assert axis.low <= 3.0
    assert axis.high >= 9000.0
    assert axis.low < axis.ticks[1] < axis.high


def test_one_kind_shows_counts_mechanisms_and_a_second_opinion(full):
    text = full.text(CELL)
    for part in ("17 failed, 8 not", "vibration fatigue", "Second opinion.", "few failures",
                 "What they fail by", "Its hoses"):
        assert part in text


def test_one_kind_by_one_mechanism(full):
    text = full.text(CELL + "?mechanism=braid_wear")
    assert "Failed by age: braid wear, 5 failed, 20 not" in text
    assert "No failure by that mechanism here" in full.text(CELL + "?mechanism=magic")


def test_a_second_kind_is_compared_in_words(full):
    text = full.text(CELL + "?with=vacuum%2520line/C-304-OP1")
    assert "C-304-OP1 on vacuum line: B10" in text
    assert "cannot be told apart" in text
    assert "is not in this edition" in full.text(CELL + "?with=x/y")


@pytest.mark.parametrize("address", ["/lives/a/b", "/lives/%3Cscript%3E/x", "/lives/a%2Fb/c"])
def test_an_unknown_kind_leads_back(full, address):
    layout = full.layout(address)
    assert "There is no such kind of hose." in words(layout)
    assert "/lives" in [link["href"] for link in found(layout, "Link")]


def test_the_hoses_of_one_kind_come_page_by_page(full):
    request = {"startRow": 0, "endRow": 5, "sortModel": [{"colId": "age_days", "sort": "desc"}],
               "filterModel": {
                   "application_class": {"filter": "homogeniser discharge"},
                   "construction": {"filter": "C-304-OP1"}}}
    answer = full.call("life-cell-hoses.getRowsResponse",
                       {"life-cell-hoses.getRowsRequest": request})
    rows = answer["life-cell-hoses"]["getRowsResponse"]
    assert rows["rowCount"] == 25
    assert len(rows["rowData"]) == 5
    assert rows["rowData"][0]["age_days"] == {
        "first": "987 days", "below": "failed between 947 and 987"}
    assert rows["rowData"][0]["service_point"]["href"].startswith("/places/")


@pytest.mark.parametrize("request_", [
    None, [], {"startRow": "x"}, {"sortModel": "drop table lives", "filterModel": 3},
    {"startRow": 0, "endRow": 10**9, "sortModel": [{"colId": "1; drop", "sort": "asc"}]},
])
def test_a_forged_request_for_hoses_gets_an_answer_and_no_fault(full, request_):
    answer = full.call("life-cell-hoses.getRowsResponse",
                       {"life-cell-hoses.getRowsRequest": request_})
    assert len(answer["life-cell-hoses"]["getRowsResponse"]["rowData"]) <= 500


def test_the_hoses_of_one_kind_are_exported_alone(full):
    answer = full.client.get("/download/hoses.csv?application_class=homogeniser%20discharge"
                             "&construction=C-304-OP1")
    assert answer.status_code == 200
    assert len(answer.get_data(as_text=True).strip().splitlines()) == 26


def test_a_ratio_of_lives_turns_over_with_the_order():
    one, two = fit(b10=100.0, spread=1.2), fit(b10=300.0, spread=1.5)
    there, back = parts_compare.life_ratio(one, two), parts_compare.life_ratio(two, one)
    assert_allclose(there[0], 3.0)
    assert_allclose([there[0] * back[0], there[1] * back[2], there[2] * back[1]], 1.0)
    assert there[1] < there[0] < there[2]


def test_no_ratio_is_given_without_both_bounds():
    one = fit() | {"pooled_b10_days_upper": None}
    assert parts_compare.life_ratio(one, fit()) == (None, None, None)


def test_hostile_names_are_text(hostile):
    text = hostile.text(CELL)
    assert "HD" in text or "failed" in text
    assert not found(hostile.layout(CELL), "Script")
