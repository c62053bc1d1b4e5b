"""Spares: the sentence, the orders, the table of parts, one part and its places."""

import datetime as dt
import io
import json
import re

import openpyxl
import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboard.parts.spares import sections as parts_spares
from dashboard.parts.spares import what_if
from dashboard.words import SPACE
from tests.dashboard.edition_maker import tables
from tests.dashboard.page_reader import found, words

FULL = tables("full")


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


def test_a_part_says_of_which_day_its_price_is(full):
    text = full.text("/spares?part=C-304-OP1-25").replace(SPACE, " ")
    assert "230 each at the price of 20 Oct 2026" in text
    assert "no price recorded; budget" in full.text("/spares?part=C-316-OP2B-80")


def test_a_part_that_needs_no_stock_is_ordered_when_needed():
    row = {"stock_level": 0, "reorder_point": -1}
    assert parts_spares.levels(row) == "no stock to keep: order when one is needed"
    assert parts_spares.levels({"stock_level": 3, "reorder_point": 2}) == "order at 2, fill up to 3"


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


def test_what_if_answers_with_stock_and_orders_against_now(full):
    text = full.text("/spares?factor=2&level=0.99")
    now = sum(row["stock_level"] for row in FULL["spares"])
    assert f"Hold {now + 3 * len(FULL['spares'])} hoses" in text
    assert f"against {now} now" in text
    assert "Not a proposal" not in text


def test_without_a_plan_the_answer_says_that_it_is_no_proposal(full):
    assert "Not a proposal" in full.text("/spares?policy=without+the+plan")


@pytest.mark.parametrize("asked", ["factor=77", "level=x", "policy=';drop", "level=0.5&factor=-1"])
def test_a_case_that_is_not_offered_is_how_things_are(full, asked):
    assert "No part of 16 would change" in full.text(f"/spares?{asked}")


def test_the_inputs_give_the_answer_of_the_address(full):
    with full.app.server.app_context():
        case = what_if.chosen({"factor": "2", "level": "0.99"}, what_if.options())
        said = " ".join(words(json.loads(json.dumps(what_if.answer(case), cls=PlotlyJSONEncoder))))
    assert said.split(" Part ")[0] in full.text("/spares?factor=2&level=0.99")


def test_the_budget_names_its_two_quantiles_and_what_has_no_price(full):
    text = full.text("/spares")
    assert "£\u00a010,700" in text
    assert "£\u00a014,400" in text
    assert "1 part without a price left out" in text


def test_surplus_is_listed_with_its_worth(full):
    over = [row for row in FULL["spares"] if row["overstock"]]
    assert over
    text = full.text("/spares")
    assert "stocked beyond a year's need" in text
    assert text.count(" too many") == len(over)
    assert f"{over[0]['overstock']} too many" in text


def test_a_part_shows_its_stand_ins_and_what_speaks_against_them(full):
    text = full.text(f"/spares?part={FULL['spares'][0]['part_number']}")
    assert "2 to spare" in text
    assert "duty met at 2 of 3 places" in text
    assert "no pressure rating in the catalogue" in text
    assert "is not approval" in text


def test_a_part_without_stand_ins_says_so(full):
    text = full.text(f"/spares?part={FULL['spares'][9]['part_number']}")
    assert "No other part of the register agrees" in text


def test_a_part_shows_what_to_hold_at_other_lead_times(full):
    layout = full.layout(f"/spares?part={FULL['spares'][0]['part_number']}")
    grid = next(item for item in found(layout, "Table") if "hold" in item["className"].split())
    assert len(grid["children"][1]["props"]["children"]) == 3


def test_the_order_list_can_be_taken_away_with_reason_counts_and_date(full):
    lines = full.client.get("/download/order_list.csv").get_data().decode("utf-8-sig").split("\r\n")
    for name in ("quantity", "why", "needed_by", "data_date", "n_failures"):
        assert name in lines[0].split(",")
    assert len(lines) - 2 == sum(bool(row["order_now"]) for row in FULL["spares"])


def test_the_order_list_says_its_method_once(full):
    book = openpyxl.load_workbook(io.BytesIO(
        full.client.get("/download/order_list.xlsx").get_data()))
    assert book.sheetnames == ["order_list", "how"]
    assert [cell.value for cell in book["how"][1]] == ["title", "words"]
    assert book["how"].max_row == 2
    assert "method" not in [cell.value for cell in book["order_list"][1]]


def test_each_quantity_says_how_it_comes_about(full):
    row = {"stock_level": 6, "level_met": 0.962, "lead_time_days": 22.0,
           "lead_time_days_upper": 33.0, "mean": 2.3, "on_hand": 1, "on_order": 2, "order_now": 4,
           "minimum_order": 4, "days_covered": 12, "needed_by": dt.date(2026, 11, 12),
           "comes_on": dt.date(2026, 11, 22)}
    hold, short = parts_spares.quantity_words(row)
    assert "Hold 6" in hold
    assert short == "In stock: 1 here, 2 on order, so 3 hoses short; the least order is 4."
    assert parts_spares.needed(row)[0] == "12 Nov 2026"
    assert "too late" in str(parts_spares.needed(row)[1])
    assert "too late" not in str(parts_spares.needed(row | {"comes_on": dt.date(2026, 11, 2)})[1])
    assert len(re.findall("hoses? short", full.text("/spares"))) == sum(
        (row["order_now"] or 0) > 0 for row in FULL["spares"])


def test_enough_that_may_come_too_late_is_not_called_enough_alone():
    row = {"order_now": 0, "on_hand": 0, "on_order": 4, "service_level": 0.95,
           "shortage_probability": 0.4}
    assert parts_spares.order_cell(row)["first"] == "enough, but it may come late"
    assert parts_spares.order_cell(row | {"shortage_probability": 0.04})["first"] == "enough"
