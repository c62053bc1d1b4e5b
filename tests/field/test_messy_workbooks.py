"""Workbooks made to be hard to read: each is read as its makers mean it, or refused by a sentence.

Source: test and example workbooks of the repository tidyverse/readxl (MIT). The one with notes
around its table is the example deaths.xlsx with other names in its cells. Values are facts of the
files.
"""

import shutil

import pytest

from etl.load import archive, warehouse
from etl.load.check import check_path
from etl.load.delimited import Job
from etl.load.extract import Dialect, Wanted
from etl.load.raw import load_raw
from etl.load.readers import read
from etl.load.tidy import tidy
from tests.load.conftest import DAY, Site

pytestmark = pytest.mark.field
DATA_SET = "messy_workbooks"


@pytest.fixture
def site(tmp_path):
    (tmp_path / "logs").mkdir()
    (tmp_path / "store").mkdir()
    with warehouse.connect() as con:
        yield Site(tmp_path / "logs", tmp_path / "store", con)


@pytest.fixture
def cells(field_data, site, tmp_path):
    """Return header and rows of a workbook, as read without knowing what it should hold."""
    def read_cells(name, sheet=None):
        job = Job(site.con, field_data / DATA_SET / name, name, "raw.one", tmp_path, Wanted(),
                  Dialect(sheet=sheet))
        extract = tidy(site.con, read(job), job.file)
        rows = site.con.execute(
            f"select * from {extract.table} where {extract.filter} order by source_row").fetchall()
        return extract, extract.header, [row[1:] for row in rows]
    return read_cells


def test_notes_around_the_table_are_left_out(field_data, site):
    """Ten rows in each of two sheets; two hoses went in before the years that are believed."""
    shutil.copyfile(field_data / DATA_SET / "junk_rows_around_table.xlsx",
                    site.logs / "hoses.xlsx")
    columns = ('ignore = ["Age", "Sleeved", "Removed"]\n[file.columns]\nhose_id = "Hose tag"\n'
               'service_point = "Application"\ninstalled_on = "Installed"\n')
    site.write("columns.toml", "".join(
        f'[[file]]\nmatch = "hoses.xlsx"\nlog = "installations"\nsheet = "{sheet}"\n{columns}'
        for sheet in ("arts", "other")))
    archive.add(site.store, site.logs, DAY)
    load_raw(site.con, site.store)
    assert site.rows("select entry_no, count(*), min(source_row), max(source_row),"
                     " min(installed_on), max(installed_on), min(hose_id), max(hose_id)"
                     " from raw.installations group by entry_no order by entry_no") == [
        (1, 10, 6, 15, "1917-02-06", "1963-06-25", "H-A001", "H-A010"),
        (2, 10, 6, 15, "1921-07-28", "1974-06-22", "H-O001", "H-O010")]
    assert (None, "notes below the table left out", 4) in site.corrections()
    assert site.is_balanced()


@pytest.mark.parametrize("name", ["dates-1900.xls", "dates-1904.xls"])
def test_both_calendars_give_the_same_days(cells, name):
    extract, header, rows = cells(name)
    assert header == ("2000-01-01",) * 5  # the file has no names; its one row stands first
    assert rows == []
    assert extract.n_records == 1


@pytest.mark.parametrize("name", ["dates-1900.xls", "dates-1904.xls"])
def test_a_table_without_names_is_refused_with_the_line_to_add(field_data, site, name):
    shutil.copyfile(field_data / DATA_SET / name, site.logs / "installations.xls")
    site.load()
    assert "Required column installed_on of installations is missing" in site.refusal(
        "installations.xls")


def test_times_stored_as_fractions_equal_their_text(cells):
    _, header, rows = cells("datetime-rounding.xlsx")
    assert header == ("dttm", "dttm_string")
    assert len(rows) == 4
    assert all(read_as == text for read_as, text in rows)


def test_days_behind_odd_formats_are_days(cells):
    _, _, rows = cells("texty-dates-xlsx.xlsx")
    assert rows == [("1985-03-11 13:00:00",), ("1985-03-11 13:23:32",)]


@pytest.mark.parametrize(("sheet", "header", "expected"), [
    ("different_rows", ("x", "y"), [(None, "a"), ("1", None)]),
    ("same_row_first", ("x", "y"), [("1", "a")]),
    ("same_row_middle", ("x", "y"), [("1", "a"), ("2", "b")]),
])
def test_blanks(cells, sheet, header, expected):
    assert cells("blanks.xlsx", sheet)[1:] == (header, expected)


@pytest.mark.parametrize(("name", "header", "expected"), [
    ("currency-formats-xlsx.xlsx", ("product", "cost_EUR", "cost_CHF", "cost_mixed"),
     [("apple", "0.5", "0.5", "0.5"), ("software", "10000", "10000", "10000")]),
    ("empty-named-column.xlsx", ("x", "y", "z", "w"),
     [("1", None, None, "2"), ("2", None, None, None), ("3", None, "NA", None)]),
    ("missing-values-xlsx.xlsx", ("x", "y", "z"),
     [("NA", "NA", None), ("1", "1", "1"), ("2", "2", "2")]),
    ("names-need-repair-xlsx.xlsx", ("a b", "a b", "", "c%&$"),
     [("1", "a", "one", "1.1"), ("2", "b", "two", "2.2")]),
    ("style-only-cells.xlsx", ("var1", "var2", "var3", "", "var5"),
     [(f"val{n},1", None, 2 * letter, None, f"{n}") for n, letter in enumerate("abc", start=1)]),
    ("unnamed-duplicated-columns.xlsx", ("", "var2", "", "var2"),
     [("1", "a", "1.1", "aa"), ("2", "b", "2.1", "bb")]),
])
def test_names_and_gaps(cells, name, header, expected):
    assert cells(name)[1:] == (header, expected)


@pytest.mark.parametrize("sheet", ["µ", "∂"])
def test_sheets_with_other_than_latin_names(cells, sheet):
    assert cells("utf8-sheet-names.xlsx", sheet)[1:] == (("x",), [("1",)])


@pytest.mark.parametrize(("sheet", "expected"), [
    ("guess_me", [(None, "true", "2017-02-27", "1", "hello"), (None, "false", "2017-02-28", "2",
     "world"), (None, "true", "2017-02-28", "3", "HELLO"),
     (None, "false", "2017-02-27", "6", "wor")]),
    ("guess_max", [("1",), ("2",), ("ab",)]),
    ("date_coercion", [("2016-05-23",), ("true",), ("cabbage",), ("4.3",), ("39448",),
                       ("2011-09-11",)]),
    ("numeric_coercion", [("1",), ("72",), ("true",), ("2014-12-23",), ("cabbage",), ("10",)]),
])
def test_mixed_types_stay_what_they_are(cells, sheet, expected):
    assert cells("types.xlsx", sheet)[2] == expected


def test_errors_are_empty_and_counted(cells):
    extract, _, rows = cells("types.xlsx", "smorgasbord")
    assert [row[0] for row in rows if row[1] is None][1:] == [
        "error #N/A explicit", "error #N/A formula", "error #NAME?", "error #VALUE!",
        "error #DIV/0!", "error #REF", "error #NUM!", "error  #NULL!"]
    assert [item.n_cells for item in extract.corrections if "error cells" in item.what] == [8]


def test_every_workbook_is_looked_at_without_a_stop(field_data):
    """None belongs to a log, and each says so with the line to add."""
    report = check_path(field_data / DATA_SET)
    assert len(report.files) == len(list((field_data / DATA_SET).iterdir()))
    for file in report.files:
        assert file.columns
        assert any("Add [[file]] match" in message for message in file.messages)
