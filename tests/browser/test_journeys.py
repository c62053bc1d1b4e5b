"""The guide's three ways through the demo fleet, from a question to something to take away."""

import csv
import io
import re

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def taken_away(visit, path):
    """Return the rows of a file that the pages hand out."""
    answer = visit.page.request.get(visit.address + path)
    assert answer.ok
    return list(csv.DictReader(io.StringIO(answer.text().removeprefix("\ufeff"))))


def number(text):
    return int(text.replace(",", ""))


def test_planner_from_what_happened_to_the_work_list(demo_visit):
    page = demo_visit.page
    demo_visit.open("/")
    out, failed = map(number, re.search(
        r"([\d,]+) hoses came out, ([\d,]+) of them failed", page.inner_text("h1")).groups())
    assert 0 < failed <= out
    assert page.locator("table.ten tbody tr").count() == 10
    due = page.locator("section", has=page.get_by_role("heading", name="Due in the next"))
    links = due.locator("a[href^='/places/']")
    assert links.count() > 0
    shown = {name.strip() for name in links.all_text_contents()}
    with page.expect_download() as waiting:
        due.get_by_role("link", name="CSV").first.click()
    text = waiting.value.path().read_text(encoding="utf-8-sig")
    listed = {row["service_point"] for row in csv.DictReader(io.StringIO(text))}
    assert shown <= listed
    report = page.request.get(demo_visit.address + "/report.html").text()
    assert f"{out} hoses" in report
    demo_visit.check()


def test_engineer_from_a_line_to_a_place_its_kind_and_a_trial(demo_visit):
    page = demo_visit.page
    first = taken_away(demo_visit, "/download/places.csv")[0]
    demo_visit.open("/")
    page.get_by_label("Find a place, line, hose or part").first.fill(first["line"])
    page.locator("[role=option]", has_text=first["site"]).first.click()
    page.wait_for_url(re.compile(r"/places\?.*line="))
    demo_visit.settled()
    page.wait_for_selector("#places-grid .ag-row a.place")
    on_line = {row["service_point"] for row in taken_away(demo_visit, "/download/places.csv")
               if (row["line"], row["site"]) == (first["line"], first["site"])}
    seen = {name.strip() for name in page.locator("#places-grid a.place").all_inner_texts()}
    assert seen <= on_line
    page.locator("#places-grid a.place").first.click()
    page.wait_for_url(re.compile(r"/places/[^?]"))
    demo_visit.settled()
    assert first["service_point"] in page.inner_text("main")
    page.locator("main a[href^='/lives/']").first.click()
    page.wait_for_url(re.compile(r"/lives/.+/.+"))
    page.wait_for_selector(".js-plotly-plot .scatterlayer")
    page.locator("header a", has_text="Trials").click()
    page.wait_for_url(re.compile("/trials"))
    page.wait_for_selector("h1:has-text('trial')")
    demo_visit.check()


def test_buyer_from_the_sentence_to_an_order_list_that_adds_up(demo_visit):
    page = demo_visit.page
    demo_visit.open("/spares")
    hoses, parts = map(number, re.search(
        r"Order ([\d,]+) hoses of ([\d,]+) parts", page.inner_text("h1")).groups())
    rows = taken_away(demo_visit, "/download/order_list.csv")
    assert len(rows) == parts
    assert sum(int(row["quantity"]) for row in rows) == hoses
    for row in rows:
        assert row["why"]
        priced = float(row["unit_price"] or 0) * int(row["quantity"])
        assert float(row["order_cost"] or 0) == pytest.approx(priced, abs=0.01 * hoses)
    page.wait_for_selector("#spares-what-if p")
    before = page.inner_text("#spares-what-if p")
    page.get_by_label("Every lead time").first.click()
    page.click("[role=option]:has-text('twice as long')")
    page.wait_for_function(
        "before => document.querySelector('#spares-what-if p').innerText !== before", arg=before)
    demo_visit.check()
