"""The page of this month says what the edition says."""

import datetime as dt

import pytest

from dashboard import words
from dashboard.parts.month import sections as parts_month
from tests.dashboard.edition_maker import tables
from tests.dashboard.page_reader import found
from tests.dashboard.page_reader import words as shown

EDITION = {"as_of": dt.date(2026, 10, 31), "currency": "GBP"}
OCTOBER = {"month": dt.date(2026, 10, 1), "n_removed": 31, "n_failed": 19, "cost": 60_000.0,
           "mean": None, "lower": None, "upper": None}
BEFORE = {"n_months": 12, "mean": 13.2, "least": 8, "most": 19}


def said(out, before, dearest=None, edition=EDITION):
    headline = parts_month.sentence(out, before, dearest, edition)
    text = "".join(shown(headline.to_plotly_json() | {"props": {"children": [
        c if isinstance(c, str) else c.children for c in headline.children]}}))
    rust = [c for c in headline.children if getattr(c, "className", None) == "attention"]
    return text.replace(words.SPACE, " "), bool(rust)


def test_sentence_without_a_forecast_compares_with_the_year_before():
    text, is_rust = said(OCTOBER, BEFORE)
    assert text == ("In October 31 hoses came out, 19 of them failed — the twelve months before "
                    "saw 13 a month (8 to 19).")
    assert not is_rust


def test_sentence_with_a_forecast_is_rust_above_its_range():
    text, is_rust = said(OCTOBER | {"mean": 13.0, "lower": 8.0, "upper": 18.0}, BEFORE)
    assert "forecast was 13 (8.0 to 18)" in text
    assert is_rust


def test_sentence_names_the_line_that_cost_most():
    dearest = {"scope_name": "Corriemoor, line 2", "cost": 24_031.0}
    assert "Corriemoor, line 2 alone cost £ 24,000." in said(OCTOBER, BEFORE, dearest)[0]
    small = dearest | {"cost": 9_000.0}
    assert "The dearest line was Corriemoor, line 2 at £ 9,000." in said(OCTOBER, BEFORE, small)[0]


@pytest.mark.parametrize(("day", "ordinal"), [
    (1, "1st"), (2, "2nd"), (3, "3rd"), (11, "11th"), (12, "12th"), (13, "13th"), (22, "22nd"),
    (30, "30th")])
def test_a_month_that_is_not_over_says_so(day, ordinal):
    part = EDITION | {"as_of": dt.date(2026, 10, day)}
    assert said(OCTOBER, BEFORE, None, part)[0].startswith(f"In October, up to the {ordinal}, 31")


@pytest.mark.parametrize(("n_removed", "n_failed", "wanted"), [
    (0, 0, "no hose came out"), (1, 1, "1 hose came out and it failed"),
    (1, 0, "1 hose came out and it had not failed"), (3, 0, "none of them failed"),
    (3, 3, "all of them failed")])
def test_small_counts_read_well(n_removed, n_failed, wanted):
    out = OCTOBER | {"n_removed": n_removed, "n_failed": n_failed}
    assert wanted in said(out, {"n_months": 0})[0]


def test_page_counts_the_removals_of_the_month(full):
    out = [life for life in tables("full")["lives"]
           if life["removed_on"] and life["removed_on"] >= dt.date(2026, 10, 1)]
    text = full.text("/").replace(words.SPACE, " ")
    assert f"{len(out)} hoses" in text


def test_page_shows_the_first_ten_of_the_ranking(full):
    ranked = [r["service_point"] for r in tables("full")["ranking"][:10]]
    links = [a["href"] for a in found(full.layout("/"), "Link") if a["href"].startswith("/places/")]
    assert [name.replace(" ", "%20") for name in ranked] == [
        href.removeprefix("/places/") for href in links[:10]]


def test_the_ten_say_how_surely_they_are_among_the_dearest(full):
    text = full.text("/").replace(words.SPACE, " ")
    first = tables("full")["ranking"][0]
    chance = words.percent(first["probability_worst_ten"]).replace(words.SPACE, " ")
    assert text.count(" in the ten") == 10
    assert f"{chance} in the ten; " in text
    place = full.text(f"/places/{first['service_point']}").replace(words.SPACE, " ")
    assert f"A chance of {chance} to be among the ten dearest places." in place
    assert "more than the middle one of its class" in place


def test_costs_that_nobody_knows_have_no_scale():
    none = {f"expected_cost{end}": None for end in ("", "_lower", "_upper")}
    none |= dict.fromkeys(("site", "line", "application_class", "hazards", "excess_cost"))
    none |= {"n_failures": 1, "n_suspensions": 0}
    rows = [row | none for row in tables("full")["ranking"][:2]]
    head = str(parts_month.ten_table(rows, parts_month.money_scale([None], "GBP")).children[0])
    assert "Expected cost" in head
    assert "scale" not in head


def test_money_scale_changes_unit_with_the_amount():
    assert parts_month.money_scale([9_999.0, None], "EUR").factor == 1
    assert parts_month.money_scale([10_000.0], "EUR").short == "€ k"
    assert parts_month.money_scale([], "SEK").long == "SEK"
