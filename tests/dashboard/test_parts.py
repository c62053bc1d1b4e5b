"""Pieces shared by the pages."""

import datetime as dt
from urllib.parse import unquote

import numpy as np
import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import parts, words
from dashboard.figures.axis import Axis, linear_axis, log_axis, ratio_axis, round_up
from dashboard.timeline import lanes, span, timeline
from tests.dashboard.edition_maker import HOSTILE


@given(st.floats(1e-6, 1e9))
def test_round_up_is_never_below_and_never_twice_as_much(value):
    assert value * (1 - 1e-9) <= round_up(value) <= 2.0 * value * (1 + 1e-9)


@given(st.lists(st.floats(0.1, 1e6), min_size=1, max_size=30))
def test_axis_positions_keep_order_and_stay_within(values):
    for axis in (linear_axis(values), log_axis(values), ratio_axis()):
        at = [axis.position(v) for v in sorted(values)]
        assert at == sorted(at)
        assert min(at) >= 0
        assert max(at) <= 100


def test_ratio_axis_puts_one_in_the_middle():
    assert ratio_axis(5.0).position(1.0) == pytest.approx(50.0)


def test_one_huge_range_does_not_squeeze_the_others():
    axis = linear_axis([10.0] * 99 + [1e6])
    assert axis.high == 10.0


AXIS = Axis(0.0, 10.0, (0.0, 5.0, 10.0))


@pytest.mark.parametrize(("lower", "upper", "ends"), [
    (2.0, 8.0, ""), (2.0, 12.0, "open-right"), (None, 8.0, "open-left"),
    (None, None, "open-left open-right"), (2.0, None, "open-right"),
])
def test_interval_ends_are_open_where_the_range_leaves_the_scale(lower, upper, ends):
    assert parts.interval_places(5.0, lower, upper, AXIS)["ends"] == ends


@pytest.mark.parametrize(("n", "name"), [(0, "none"), (1, "some"), (4, "some"), (5, "strong")])
def test_strength_of_evidence(n, name):
    assert parts.strength(n) == name


def test_an_unknown_estimate_is_said_in_words():
    drawn = parts.interval(None, None, None, AXIS, label="")
    assert drawn.children == "too little is known"
    assert drawn.className == "absent"


@given(st.text(min_size=1))
def test_any_name_survives_the_address_of_its_page(name):
    name = name.encode("utf-8", "ignore").decode("utf-8")
    href = parts.place_href(name)
    assert unquote(href.removeprefix("/places/")) == name
    assert not set("/?#&<>\"' ") & set(href.removeprefix("/places/"))


def test_every_graph_leaves_the_vendors_buttons_out():
    figure = parts.graph("test-graph", go.Figure(), 100, "nothing")
    graph = figure.children[1]
    assert graph.config == {
        "showSendToCloud": False, "displaylogo": False, "displayModeBar": False}


def test_percent_never_rounds_to_certainty():
    assert words.percent(0.0001).startswith("under")
    assert words.percent(0.9999).startswith("over")


@pytest.mark.parametrize("value", [None, np.nan, np.inf])
def test_an_absent_number_is_said_in_words(value):
    assert words.number(value) == "not known"


def stay(first, last, **more):
    return {"hose_id": "H1", "installed_on": first, "removed_on": last, "kind": "failed",
            "is_open": last is None, "is_unknown_reason": False, "mechanism": None,
            "removal_reason": "failed", "last_seen_good_on": None, "age_low_days": 10.0} | more


DAY = dt.date(2024, 1, 1)
LATER = dt.date(2024, 12, 31)


def test_timeline_marks_each_way_a_stay_can_end():
    rows = [
        stay(DAY, dt.date(2024, 3, 1)),
        stay(dt.date(2024, 3, 1), dt.date(2024, 5, 1), kind="interval",
             last_seen_good_on=dt.date(2024, 4, 1)),
        stay(dt.date(2024, 5, 1), dt.date(2024, 7, 1), kind="suspended", removal_reason="planned"),
        stay(dt.date(2024, 7, 1), dt.date(2024, 9, 1), kind="suspended", is_unknown_reason=True,
             removal_reason="unknown"),
        stay(dt.date(2024, 9, 1), None, kind="suspended", removal_reason="in service"),
    ]
    names = [child.className for child in timeline(rows, LATER, None).children]
    assert [n for n in names if n.startswith("end")] == ["end failed", "end found", "end planned"]
    assert names.count("unseen") == 1
    assert "stay nameless" in names
    assert "stay open" in names


def test_timeline_survives_a_stay_of_no_length_and_hostile_names():
    rows = [stay(LATER, LATER, hose_id=name) for name in HOSTILE]
    assert len(timeline(rows, LATER, DAY).children) > len(HOSTILE)


def test_two_hoses_at_once_lie_in_two_lanes():
    rows = [stay(DAY, LATER), stay(dt.date(2024, 6, 1), None)]
    assert lanes(rows, LATER) == [0, 1]
    assert span(rows, LATER).at(LATER) > span(rows, LATER).at(DAY)
