"""The report of a month: one page that stands alone, one workbook, paper where it can be made."""

import io
import os
import re
import stat
from html.parser import HTMLParser

import openpyxl
import pytest
from dash import dcc, html

from dashboard.report import files
from dashboard.report.book import QUESTIONS, month_book
from dashboard.report.page import month_page
from dashboard.report.static import to_html, to_text
from etl.sheets import RUNS
from tests.dashboard.edition_maker import HOSTILE

STATES = ("full", "empty", "hostile")


class Elements(HTMLParser):
    """Collects the elements and their attributes, and checks that they close in order."""

    def __init__(self):
        super().__init__()
        self.names, self.links, self.open = [], [], []

    def handle_starttag(self, tag, attrs):
        self.names.append(tag)
        self.links += [value for name, value in attrs if name in ("href", "src", "action")]
        self.links += [name for name, _ in attrs if name.startswith("on")]
        if tag not in ("meta", "br", "wbr", "hr", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@pytest.fixture
def reader(request):
    return request.getfixturevalue(request.param)


def page_of(reader):
    with reader.app.server.test_request_context():
        return month_page()


@pytest.mark.parametrize("reader", STATES, indirect=True)
def test_the_page_holds_no_script_no_link_and_closes_what_it_opens(reader):
    text = page_of(reader)
    seen = Elements()
    seen.feed(text)
    assert seen.open == []
    assert not {"script", "a", "iframe", "object", "form", "link"} & set(seen.names)
    assert seen.links == []
    assert set(re.findall(r"url\((?!data:)", text)) == set()


def test_a_name_that_is_markup_is_shown_as_text(hostile):
    text = page_of(hostile)
    assert HOSTILE[0] not in text
    assert "&lt;script&gt;" in text


def test_the_page_names_places_orders_budget_doubts_and_methods(full):
    text = page_of(full)
    for title in ("Ten places to act on", "Due in the next three months", "Order now", "Budget",
                  "What the figures rest on", "How the figures are made", "Before this work:",
                  "report of October 2026", "<svg"):
        assert title in text, title
    for gone in ("how do you know", "CSV", "see them", "Month by month"):
        assert gone not in text[text.index("<main"):], gone


def test_an_empty_edition_makes_a_page_that_says_so(empty):
    text = page_of(empty)
    assert "No place is on record yet." in text
    assert "No place is ranked yet." in text
    assert "NaN" not in text
    assert "None" not in text


@pytest.mark.parametrize("reader", STATES, indirect=True)
def test_the_workbook_has_every_sheet_and_no_cell_that_runs(reader):
    with reader.app.server.test_request_context():
        book = openpyxl.load_workbook(io.BytesIO(month_book()))
    assert book.sheetnames == ["this month", *QUESTIONS]
    for sheet in book:
        for row in sheet.iter_rows(min_row=2, values_only=True):
            assert not [cell for cell in row if isinstance(cell, str)
                        and cell.lstrip(" ").startswith(RUNS)]


def test_the_workbook_lists_ten_places_and_every_order(full):
    with full.app.server.test_request_context():
        book = openpyxl.load_workbook(io.BytesIO(month_book()))
    assert book["ten places"].max_row == 11
    orders = full.client.get("/download/order_list.csv").get_data().decode().count("\r\n")
    assert book["orders"].max_row == orders


@pytest.mark.parametrize(("kind", "starts"), [("html", b"<!DOCTYPE html>"), ("xlsx", b"PK")])
def test_the_pages_hand_out_the_report(full, kind, starts):
    answer = full.client.get(f"/report.{kind}")
    assert answer.status_code == 200
    assert answer.get_data().startswith(starts)
    assert f"braidlife-2026-10.{kind}" in answer.headers["Content-Disposition"]


def test_another_kind_of_report_is_not_there(full):
    assert full.client.get("/report.docx").status_code == 404


@pytest.fixture
def stand_in(tmp_path, monkeypatch):
    """A program in place of Chromium that does what a test tells it."""
    def make(body):
        program = tmp_path / "browser"
        program.write_text(f"#!/bin/sh\n{body}\n")
        program.chmod(program.stat().st_mode | stat.S_IXUSR)
        monkeypatch.setenv("BRAIDLIFE_CHROMIUM", str(program))
    return make


def test_files_are_named_by_the_month_and_a_missing_browser_is_said(stores, tmp_path, monkeypatch):
    monkeypatch.setenv("BRAIDLIFE_CHROMIUM", str(tmp_path / "nothing"))
    made = files.write_report(stores["full"], tmp_path / "out")
    assert [path.name for path in made.files] == ["braidlife-2026-10.html",
                                                  "braidlife-2026-10.xlsx"]
    assert made.note == files.NO_CHROMIUM
    assert sorted(os.listdir(tmp_path / "out")) == [path.name for path in made.files]


@pytest.mark.parametrize("body", ["exit 3", "exit 0"])
def test_a_browser_that_does_not_print_is_said_and_the_rest_is_kept(stores, tmp_path, stand_in,
                                                                   body):
    stand_in(body)
    made = files.write_report(stores["full"], tmp_path / "out")
    assert len(made.files) == 2
    assert "No PDF: browser" in made.note


def test_an_older_pdf_does_not_pass_for_a_new_one(stores, tmp_path, stand_in):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "braidlife-2026-10.pdf").write_text("old")
    stand_in("exit 1")
    files.write_report(stores["full"], tmp_path / "out")
    assert not (tmp_path / "out" / "braidlife-2026-10.pdf").exists()


def test_a_printed_page_counts_among_the_files(stores, tmp_path, stand_in):
    stand_in('for a in "$@"; do case "$a" in --print-to-pdf=*) echo x > "${a#*=}";; esac; done')
    made = files.write_report(stores["full"], tmp_path / "out")
    assert [path.suffix for path in made.files] == [".html", ".xlsx", ".pdf"]
    assert made.note == ""


def test_components_become_plain_html():
    node = html.Section([dcc.Link("P <1>", href="/x", className="place"), dcc.Store(id="s"), None,
                         html.Span("gone", className="downloads"), html.Wbr(),
                         html.Details([html.Summary("more"), "text"], className="fold")],
                        style={"minHeight": "3px"}, **{"aria-label": 'a "b"'})
    assert to_html(node) == (
        '<section style="min-height:3px" aria-label="a &quot;b&quot;"><b class="place">P &lt;1&gt;'
        '</b><wbr><details class="fold" open="open"><summary>more</summary>text</details>'
        "</section>")
    assert to_text(node) == "P <1>gonemoretext"
