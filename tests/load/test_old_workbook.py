"""Workbooks of the old binary form are read by the rules of the present one."""

import datetime as dt
import struct

import pytest

from tests.load.old_workbook import Error, Zeros, container, old_book, old_stream, record

NAME = "installations.xls"
HEAD = ["installed_on", "service_point", "hose_id", "age_at_installation"]
ROWS = "select source_row, installed_on, service_point, hose_id from raw.installations order by all"
DAY = dt.datetime(2020, 1, 31)


@pytest.mark.parametrize("starts_1904", [False, True], ids=["from 1900", "from 1904"])
def test_cells_are_read_as_text_in_the_workbooks_own_calendar(site, starts_1904):
    site.write(NAME, old_book({"Hoses": [
        HEAD, [DAY, "P1", "00123", 12.5], [DAY, "Ω", 123, 7],
        [dt.datetime(2020, 2, 1, 13, 5), "P2", "H3", "8"]]}, starts_1904=starts_1904))
    site.load()
    assert site.rows(ROWS) == [
        (2, "2020-01-31", "P1", "00123"), (3, "2020-01-31", "Ω", "123"),
        (4, "2020-02-01 13:05:00", "P2", "H3")]
    assert site.rows("select age_at_installation from raw.installations order by source_row") == [
        ("12.5",), ("7",), ("8",)]
    assert site.corrections() == [
        ("age_at_installation", "numbers stored as text, read as numbers", 1)]
    assert site.is_balanced()


def test_blank_rows_styled_cells_and_errors_leave_no_cell(site):
    site.write(NAME, old_book({"Hoses": [
        ["Hose list"], [], HEAD, [DAY, "P1", Error(42)], [None, None, None], [],
        [DAY, "P2", "H2"], ["Total", None, 2.0]]}))
    site.load()
    assert site.rows(ROWS) == [(4, "2020-01-31", "P1", None), (7, "2020-01-31", "P2", "H2")]
    assert site.corrections() == [
        (None, "error cells such as #N/A read as empty", 1),
        (None, "rows above the header left out", 2),
        (None, "rows of totals at the end left out", 1)]
    assert site.is_balanced()


def test_merged_cells_are_reported_in_the_header_and_repeated_below(site):
    site.write(NAME, old_book({"Hoses": [
        [*HEAD, "remark", None], [DAY, "P1", "H1"], [DAY, None, "H2"], [DAY, None, "H3"]]},
        merged=[(0, 0, 4, 5), (1, 2, 1, 1)]))
    site.write("columns.toml", f'[[file]]\nmatch = "{NAME}"\nlog = "installations"\n'
               'ignore = ["remark"]\n')
    site.load()
    assert [row[2] for row in site.rows(ROWS)] == ["P1", "P1", None]
    assert site.corrections() == [
        ("remark", "merged header cells: the columns to the right have no name", 1),
        (None, "cells merged over several rows: repeated in each", 1)]


def test_zeros_that_only_the_format_shows_belong_to_the_tag(site):
    site.write(NAME, old_book({"Hoses": [
        HEAD, [DAY, "P1", Zeros(17), Zeros(12)], [DAY, "P1", "17"], [DAY, "P1", Zeros(170)]]}))
    site.load()
    assert [row[3] for row in site.rows(ROWS)] == ["0017", "17", "0170"]
    assert site.rows("select age_at_installation from raw.installations order by source_row") == [
        ("12",), (None,), (None,)]
    assert site.corrections() == [
        ("hose_id", "numbers whose format shows zeros or letters, read as shown", 2)]


def test_the_visible_sheet_with_the_wanted_columns_is_read(site):
    site.write(NAME, old_book({
        "Old": [HEAD, [DAY, "old", "H"]], "Notes": [["read me"]], "µ": [HEAD, [DAY, "new", "H"]]},
        hidden=["Old"]))
    site.load()
    assert [row[2] for row in site.rows(ROWS)] == ["new"]
    assert site.corrections() == [(None, "sheets not read", 1)]


@pytest.mark.parametrize("made", [old_book, old_stream], ids=["in a container", "bare stream"])
def test_a_book_of_many_rows_is_read_whole(site, made):
    rows = [HEAD, *([DAY, f"P{number}", str(number + 2)] for number in range(3_000))]
    site.write(NAME, made({"Hoses": rows}))
    site.load()
    assert site.rows("select count(*) from raw.installations where source_row::varchar = hose_id"
                     ) == [(3_000,)]


def test_the_content_decides_the_form_not_the_ending(site):
    site.write("installations.xlsx", old_book({"Hoses": [HEAD, [DAY, "P1", "H1"]]}))
    site.load()
    assert site.rows(ROWS) == [(2, "2020-01-31", "P1", "H1")]


def protected_old():
    """Return a workbook whose cells are encrypted."""
    start = record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0005, 0, 1997, 0, 6))
    return container({"Workbook": start + record(0x002F, b"\x01\x00\x01\x00\x01\x00" + bytes(48))})


@pytest.mark.parametrize(("content", "said"), [
    pytest.param(protected_old, "protected by a password. Save it without one", id="protected"),
    pytest.param(lambda: container({"EncryptedPackage": b"x"}),
                 "protected by a password. Save it without one", id="present form, protected"),
    pytest.param(lambda: old_book({"A": [HEAD]})[:1500], "the workbook is damaged", id="cut short"),
    pytest.param(lambda: b"\xd0\xcf\x11\xe0" + b"\xff" * 2000, "the workbook is damaged",
                 id="nonsense"),
    pytest.param(lambda: old_book({"A": [[]]}), "no sheet with column names", id="no cells"),
    pytest.param(lambda: b"installed_on\tservice_point\n", "its content is text", id="text inside"),
    pytest.param(lambda: b"\xef\xbb\xbf<html><table><tr><td>1</td></tr></table>",
                 "its content is a web page or XML", id="web page inside"),
])
def test_unusable_old_workbooks_say_why_and_the_others_load(site, content, said):
    site.write(NAME, content())
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.load()
    assert said in site.refusal(NAME)
    assert site.status("service_points.csv") == ("loaded", None)
