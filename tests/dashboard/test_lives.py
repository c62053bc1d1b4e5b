"""Lives: the matrix and one kind of hose, as the application answers them."""

import re
from urllib.parse import quote

import pytest
from numpy.testing import assert_allclose

from dashboard.parts import matrix as parts_lives
from dashboard.parts.kind import ratio as parts_compare
from dashboard.parts.kind.sections import against_words
from dashboard.words import lives as words_lives
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


@pytest.mark.parametrize("mechanism", ["all", "abrasion"])
@pytest.mark.parametrize(("p_value", "is_told"), [(0.4, False), (0.0004, True)])
def test_hoses_unlike_those_borrowed_from_are_called_so(p_value, is_told, mechanism):
    said = against_words({"n_failures": 12, "failures_expected": 3.1, "expected_p_value": p_value,
                          "failures_expected_lower": 1.0, "failures_expected_upper": 7.2,
                          "n_unknown": 3, "mechanism": mechanism})
    share = "" if mechanism == "all" else " and a share of 3 of unknown mechanism"
    assert said.startswith(f"12 failures{share} here; class, construction and mechanism led one "
                           "to expect 3.1 (1.0 to 7.2) in the time watched: ")
    assert ("unlike those borrowed from" in said) is is_told


def test_what_like_kinds_leave_open_is_no_number_of_eleven_digits():
    said = against_words({"n_failures": 1, "failures_expected": 0.88, "expected_p_value": 0.95,
                          "failures_expected_lower": 1e-9, "failures_expected_upper": 3e11,
                          "n_unknown": 0, "mechanism": "all"})
    assert said.endswith("so there is nothing to compare with yet.")
    assert not any(digit in said for digit in "0123456789")


def test_one_kind_tells_what_like_kinds_led_one_to_expect(full):
    text = full.text("/lives/homogeniser%20discharge/C-304-OP1")
    assert "Against like kinds." in text
    assert "led one to expect" in text


def test_one_kind_by_one_mechanism(full):
    text = full.text(CELL + "?mechanism=braid_wear")
    assert "Failed by age: braid wear, 5 failed, 20 not" in text
    assert "No failure by that mechanism here" in full.text(CELL + "?mechanism=magic")


def test_a_second_kind_is_compared_in_words(full):
    text = full.text(CELL + "?with=vacuum%2520line/C-304-OP1")
    assert "C-304-OP1 on vacuum line: B10" in text
    assert "times (" in text
    assert "the B10 of C-304-OP1 on homogeniser discharge" in text
    assert "Log-rank test over all ages" in text
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
    None, {"startRow": "x"}, {"sortModel": "drop table lives", "filterModel": 3},
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


def test_hoses_found_failed_have_their_survival_without_a_law_beside_the_curve(full):
    text = full.text(CELL)
    assert "no law supposed (Turnbull's estimate)" in text
    with full.app.server.app_context():
        from dashboard.queries import lives as asked
        whole = asked.cell("homogeniser discharge", "C-304-OP1")[0]
        bare = [row for row in asked.matrix("all") if not row["n_intervals"]][0]
    assert f"of {whole['n_failures']} that failed" in text
    kind = f"/lives/{quote(bare['application_class'])}/{quote(bare['construction'])}"
    assert "no law supposed" not in full.text(kind)


def compared(**changed):
    row = {"shape_p_value": 0.2, "life_p_value": 0.1, "law_p_value": 0.03,
           "log_rank_p_value": 0.0002, "log_rank_early_p_value": 0.21,
           "log_rank_late_p_value": 0.0001, "longer_b10_probability": 0.97,
           "longer_characteristic_life_probability": 0.6}
    for name, value in (("b10", 2.0), ("characteristic_life", 1.1), ("shape", 0.9)):
        row |= {f"{name}_ratio": value, f"{name}_ratio_lower": value / 1.5,
                f"{name}_ratio_upper": value * 1.5}
    return row | changed


def said(**changed):
    items = parts_compare.comparison_words(["one", "two"], [fit(), fit()], compared(**changed))
    return words({"props": _plain(items)})


def test_the_verdict_names_the_longer_lived_and_how_sure_it_is():
    text = " ".join(said())
    assert "two lasts longer: 2.0 times (1.3 to 3.0) the B10 of one; chance 97\xa0%." in text
    less = " ".join(said(b10_ratio=0.4, b10_ratio_lower=0.2, b10_ratio_upper=0.7,
                         longer_b10_probability=0.02))
    assert "two lasts less long: 0.40 times (0.20 to 0.70) the B10 of one; chance 98" in less


def test_a_range_that_holds_one_is_no_verdict():
    text = " ".join(said(b10_ratio_lower=0.8, longer_b10_probability=0.81))
    assert "cannot be told apart by B10" in text
    assert "is the longer-lived 81" in text
    assert "Among the longer lives" not in text
    later = " ".join(said(b10_ratio_lower=0.8, characteristic_life_ratio_lower=1.05))
    assert "Among the longer lives, two lasts longer." in later


@pytest.mark.parametrize(("changed", "wanted"), [
    ({}, "The shapes cannot be told apart: 0.90 times (0.60 to 1.4)"),
    ({"shape_ratio_lower": 1.01, "shape_ratio": 1.3}, "The shape of two is steeper: 1.3 times"),
    ({"shape_ratio_upper": 0.95}, "The shape of two is flatter: 0.90 times"),
    ({"shape_ratio": None, "shape_ratio_lower": None, "shape_ratio_upper": None},
     "has none by its own hoses"),
])
def test_the_difference_of_shapes_is_told_with_its_range(changed, wanted):
    assert wanted in " ".join(said(**changed))


def test_tests_against_chance_are_told_or_said_to_be_missing():
    text = " ".join(said())
    assert ("Log-rank test over all ages: hardly ever made by chance (p below 0.001); looking "
            "most at young hoses p = 0.21, at old ones p below 0.001.") in text
    assert "One Weibull law for both: rarely made by chance (p = 0.030)." in text
    assert "No log-rank test" in " ".join(said(log_rank_p_value=None))


def test_no_ratio_is_given_without_a_b10():
    assert "No ratio of lives can be given" in " ".join(said(b10_ratio=None))


def test_only_kinds_with_class_or_construction_in_common_are_offered(full):
    options = next(s["data"] for s in found(full.layout(CELL), "Select")
                   if s["id"] == "life-cell-with")
    assert len(options) == 3 + 5
    for option in options:
        assert "homogeniser discharge" in option["label"] or "C-304-OP1" in option["label"]
    assert "neither class nor construction" in full.text(CELL + "?with=vacuum%2520line/C-316-CP1")


def test_both_ways_round_the_comparison_says_the_same(full):
    def verdict(here, there):
        text = full.text(f"/lives/{here}/C-304-OP1?with={there.replace('%', '%25')}/C-304-OP1")
        return re.search(r"lasts (longer|less long): ([0-9.]+) times", text).groups()

    one = verdict("homogeniser%20discharge", "nitrogen%20transfer")
    two = verdict("nitrogen%20transfer", "homogeniser%20discharge")
    assert {one[0], two[0]} == {"longer", "less long"}
    assert_allclose(float(one[1]) * float(two[1]), 1.0, rtol=0.06)


def test_hostile_names_are_text(hostile):
    text = hostile.text(CELL)
    assert "HD" in text or "failed" in text
    assert not found(hostile.layout(CELL), "Script")


BY_HOURS = "/lives?clock=run_hours"


def clock_links(layout):
    """Return what each link in a line of choices leads to, by its words."""
    return {link["children"]: link["href"] for link in found(layout, "Link")
            if isinstance(link.get("children"), str)}


def test_the_matrix_is_read_by_another_clock(full):
    layout, text = full.layout(BY_HOURS), full.text(BY_HOURS)
    cells = [link for link in found(layout, "Link") if link.get("className") == "matrix-cell"]
    assert cells
    assert all("clock=run_hours" in cell["href"] for cell in cells)
    assert "run hours" in text
    assert re.search(r"[0-9] h\b", text)
    assert "pooled in calendar days only" in text
    assert "Left out for want of readings" in text
    assert "No hose is told on" in text
    with full.app.server.app_context():
        from dashboard.queries import lives as asked
        fits = asked.clock_matrix("run_hours", "all")
        days = {(f["application_class"], f["construction"]): f for f in asked.matrix("all")}
    assert {fit["application_class"] for fit in fits} == {"homogeniser discharge", "vacuum line"}
    for cell, row in zip(cells, fits, strict=True):
        same = days[row["application_class"], row["construction"]]
        assert row["b10"] is None or row["b10"] == pytest.approx(12 * same["b10_days"])
        assert words_lives.ranged(row, "b10", "alone") in cell["title"]


def test_only_clocks_with_readings_are_offered(full, empty):
    links = clock_links(full.layout("/lives"))
    assert (links["run hours"], links["cycles"]) == (BY_HOURS, "/lives?clock=cycles")
    kind = clock_links(full.layout(CELL))
    assert ("run hours" in kind, "cycles" in kind) == (True, False)
    assert "asks for a choice that is not offered" in full.text("/lives?clock=fortnights")
    assert "run hours" not in empty.text(BY_HOURS)


def test_choices_keep_the_clock_and_the_clock_keeps_the_choices(full):
    layout = full.layout(BY_HOURS + "&measure=shape&mechanism=braid_wear&estimate=alone")
    hrefs = [link["href"] for link in found(layout, "Link")]
    assert "/lives?clock=run_hours&estimate=alone&mechanism=braid_wear" in hrefs  # B10
    assert "/lives?measure=shape&estimate=alone&mechanism=braid_wear" in hrefs  # calendar days


def test_one_kind_is_told_by_another_clock_and_says_what_stands_in_days_only(full):
    text = full.text(CELL + "?clock=run_hours")
    for part in ("run hours (", "by these hoses alone", "hoses with readings of run hours",
                 "2 hoses (0 of them failed): 1 without a meter, 1 not read from the day",
                 "1 hose ran on for more than 90 days after the last reading and counts as still",
                 "none of them failed later",
                 "In calendar days only", "the comparison with a second kind of hose",
                 "B10 is a planning figure, never a safe life.", "Its hoses"):
        assert part in text, part
    assert "borrowed" not in text
    assert "No hose of this kind has readings of that clock" in full.text(CELL + "?clock=cycles")


def test_a_kind_without_readings_says_so_in_the_matrix():
    silent = fit() | {"clock": "cycles", "n_lives": 0, "n_failures": 0, "n_left_out": 12,
                      "status": "no_lives", "b10": None, "b10_lower": None, "b10_upper": None}
    read = silent | {"construction": "y", "n_lives": 9, "n_failures": 6, "status": "ok",
                     "b10": 900.0, "b10_lower": 400.0, "b10_upper": 1700.0}
    table = parts_lives.matrix([silent, read], "b10", "alone", "all")
    text = " ".join(words({"props": _plain(table)}))
    assert "no readings" in text
    assert "12 hoses" in text
    assert "900 cycles" in text
