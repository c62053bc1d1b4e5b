"""Tags that differ only by zeros or in their last digits stay different hoses.

Kind of pandas-dev/pandas #12186 and tidyverse/readxl #389 (leading zeros lost, or kept only by a
cell's format) and plotly/dash-table #481 (long numbers rounded).
"""

import datetime as dt

import duckdb
import pytest

from tests.load.new_workbook import Styled, book
from tests.load.old_workbook import Zeros, old_book

HEAD = ["installed_on", "service_point", "hose_id"]
TAGS = ["0021", "0210", "21", "2.10", "2.1", "1e5", "100000", "NA", "inf", "TRUE", "0x1F",
        "20250306000000021", "20250306000000022", "-21", "+21", " 21x"]
QUERY = "select hose_id from raw.installations order by source_row"


@pytest.mark.parametrize(("name", "delimiter"), [
    ("installations.csv", ","), ("installations.csv", ";"), ("installations.tsv", "\t")])
def test_tags_of_a_text_file_are_kept_sign_by_sign(site, name, delimiter):
    lines = [HEAD, *(["2020-01-31", "P1", tag] for tag in TAGS)]
    site.write(name, "".join(delimiter.join(line) + "\n" for line in lines))
    site.load()
    assert [row[0] for row in site.rows(QUERY)] == TAGS


def test_tags_written_as_text_in_a_workbook_are_kept_sign_by_sign(site):
    site.write("installations.xlsx", book(
        [HEAD, *(["2020-01-31", "P1", tag] for tag in TAGS)], strings_to_formulas=False))
    site.load()
    assert [row[0] for row in site.rows(QUERY)] == TAGS


@pytest.mark.parametrize(("name", "content"), [
    ("installations.xlsx", lambda: book([HEAD, *(
        [dt.date(2020, 1, 31), "P1", tag] for tag in (Styled(21, "0000"), Styled(210, "0000"), 21))
    ])),
    ("installations.xls", lambda: old_book({"A": [HEAD, *(
        [dt.datetime(2020, 1, 31), "P1", tag] for tag in (Zeros(21), Zeros(210), 21))]})),
], ids=["present form", "old form"])
def test_zeros_that_only_the_format_of_a_cell_shows_make_another_tag(site, name, content):
    site.write(name, content())
    site.load()
    assert [row[0] for row in site.rows(QUERY)] == ["0021", "0210", "21"]


def test_tags_of_a_parquet_file_are_kept(site):
    target = str(site.logs / "installations.parquet").replace("'", "''")
    rows = ", ".join(f"(date '2020-01-31', 'P1', '{tag}')" for tag in TAGS)
    duckdb.sql(f"copy (select * from (values {rows}) as t({', '.join(HEAD)})) to '{target}'"
               " (format parquet)")
    site.load()
    assert [row[0] for row in site.rows(QUERY)] == TAGS


def test_whole_numbers_of_a_parquet_file_keep_all_their_digits(site):
    target = str(site.logs / "installations.parquet").replace("'", "''")
    duckdb.sql("copy (select * from (values (date '2020-01-31', 'P1', 20250306000000021),"
               f" (date '2020-01-31', 'P1', 20250306000000022)) as t({', '.join(HEAD)}))"
               f" to '{target}' (format parquet)")
    site.load()
    assert [row[0] for row in site.rows(QUERY)] == ["20250306000000021", "20250306000000022"]


def test_digits_that_a_workbook_lost_already_are_said(site):
    site.write("installations.xlsx", book(
        [HEAD, [dt.date(2020, 1, 31), "P1", 20250306000000021]]))
    site.load()
    [(column, what, n_cells)] = site.corrections()
    assert (column, n_cells) == ("hose_id", 1)
    assert "the last digits were lost" in what
