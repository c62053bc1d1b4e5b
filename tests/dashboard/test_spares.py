"""Spares: the sentence, the orders, the table of parts, one part and its places."""

import pytest

from dashboard import parts_spares
from tests.dashboard.page_reader import found


def rows(reader, **filters):
    request = {"startRow": 0, "endRow": 50, "sortModel": [],
               "filterModel": {name: {"filter": value} for name, value in filters.items()}}
    answer = reader.call("spares-parts.getRowsResponse", {"spares-parts.getRowsRequest": request})
    return answer["spares-parts"]["getRowsResponse"]["rowData"]


def test_the_sentence_says_what_to_order_and_what_has_no_price(full):
    text = full.text("/spares")
    assert "17 hoses of 11 parts now" in text
    assert "1 part without a price" in text


def test_the_table_says_order_enough_or_no_stock_log(full):
    said = {row["order_now"]["first"].split()[0] for row in rows(full)}
    assert said == {"order", "enough", "no"}
    assert len(rows(full)) == 16


@pytest.mark.parametrize("state", ["order", "enough", "over", "unknown"])
def test_each_state_of_stock_is_a_filter(full, state):
    first = {row["order_now"]["first"].split()[0] for row in rows(full, state=state)}
    wanted = {"order": {"order"}, "enough": {"enough"}, "over": {"enough"}, "unknown": {"no"}}
    assert first <= wanted[state]
    assert sum(len(rows(full, state=s)) for s in ("order", "enough", "over", "unknown")) == 16


def test_text_finds_a_part_in_any_case(full):
    assert {row["part_number"]["text"] for row in rows(full, text="c-304-op1-4")} == {
        "C-304-OP1-40"}


def test_a_part_without_a_price_has_no_budget(full):
    row = next(r for r in rows(full) if r["part_number"]["text"] == "C-316-OP2B-80")
    assert row["budget_12_months"] == {"first": "no price", "below": "not in the budget"}


def test_a_part_keeps_the_filters_in_its_link(full):
    row = rows(full, construction="C-304-OP1")[0]
    assert "construction=C-304-OP1" in row["part_number"]["href"]
    assert "part=" in row["part_number"]["href"]


def test_a_chosen_part_names_the_places_that_use_it(full):
    layout = full.layout("/spares?part=C-316-CP1-40")
    places = [link["href"] for link in found(layout, "Link") if link["href"].startswith("/places/")]
    assert len(places) >= 2


def test_a_part_that_is_not_there_is_said(full):
    assert "There is no part nothing in this edition." in full.text("/spares?part=nothing")


def test_a_missing_stock_log_is_said_and_no_order_guessed():
    row = {"order_now": None, "on_hand": None, "on_order": None}
    assert parts_spares.order_cell(row)["first"] == "no stock log"


def test_a_choice_of_span_changes_the_demand_column_only(full):
    inputs = {'{"index":["ALL"],"type":"spares-filter"}.value': None}
    assert inputs
    columns = parts_spares.columns(_axes(), "3")
    others = parts_spares.columns(_axes(), "12")
    changed = [i for i, (a, b) in enumerate(zip(columns, others, strict=True)) if a != b]
    assert changed == [parts_spares.DEMAND_COLUMN]


def _axes():
    from dashboard.figures.axis import linear_axis
    return {span: linear_axis([float(span)]) for span in ("3", "6", "12")}
