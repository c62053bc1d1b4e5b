"""Plain numbers that stand for days: which day they mean depends on a calendar, never guessed.

43,861 and 42,399 are 31 January 2020 in the calendars from 1900 and from 1904: 1,462 days lie
between them (ECMA-376, part 1, section 18.17.4.1, from memory).
"""

import datetime as dt

import duckdb
import pytest

from etl.load.check import check_path
from etl.load.mapping import parse_mapping
from etl.load.trial_run import try_rows
from etl.load.typing import build_clean
from tests.load.new_workbook import book
from tests.load.old_workbook import old_book

HEAD = ["installed_on", "service_point"]
PLACES = "service_point,application_class\nP1,a\n"
SERIAL = {1900: 43_861, 1904: 42_399}
ENTRY = '[[file]]\nmatch = "installations.*"\nlog = "installations"\n'
NOT_DECLARED = "is a number of days, and from which year it counts is not declared"


def as_parquet(rows, site):
    path = site.logs.parent / "made.parquet"
    with duckdb.connect() as con:
        con.execute(f"copy (select {rows[1][0]} as installed_on, 'P1' as service_point)"
                    f" to '{path}' (format parquet)")
    return path.read_bytes()


FORMS = {
    "xlsx from 1900": ("xlsx", lambda rows, site: book(rows)),
    "xlsx from 1904": ("xlsx", lambda rows, site: book(rows, date_1904=True)),
    "xls from 1900": ("xls", lambda rows, site: old_book({"A": rows})),
    "xls from 1904": ("xls", lambda rows, site: old_book({"A": rows}, starts_1904=True)),
    "csv": ("csv", lambda rows, site: "\n".join(",".join(map(str, row)) for row in rows)),
    "parquet": ("parquet", as_parquet),
}


def days(site, form, number, mapping=""):
    ending, made = FORMS[form]
    site.write("service_points.csv", PLACES)
    site.write(f"installations.{ending}", made([HEAD, [number, "P1"]], site))
    if mapping:
        site.write("columns.toml", mapping)
    site.load()
    build_clean(site.con, site.groups, dt.date(2026, 1, 1))
    return [str(day) for day, in site.rows("select installed_on from clean.installations")]


@pytest.mark.parametrize("form", [form for form in FORMS if "from 1900" not in form])
def test_without_a_calendar_the_row_is_refused_with_the_line_to_add(site, form):
    """A workbook from 1904 was once made on another kind of machine; since then such columns
    are pasted from either kind (common practice, no source)."""
    assert days(site, form, SERIAL[1904]) == []
    [(column, value, reason, remedy)] = site.rows(
        "select column_name, value, reason, remedy from clean.refused")
    assert (column, value, reason) == ("installed_on", str(SERIAL[1904]), NOT_DECLARED)
    assert "serial_days_from = 1900" in remedy


@pytest.mark.parametrize("form", ["xlsx from 1904", "xls from 1904"])
def test_a_workbook_tells_why_its_numbers_are_no_days(site, form):
    days(site, form, SERIAL[1904])
    [(column, what, n)] = site.corrections()
    assert (column, n) == ("installed_on", 1)
    assert "declare serial_days_from" in what


@pytest.mark.parametrize("year", [1900, 1904])
@pytest.mark.parametrize("form", FORMS)
def test_the_declared_calendar_is_used(site, form, year):
    assert days(site, form, SERIAL[year], ENTRY + f"serial_days_from = {year}\n") == ["2020-01-31"]


@pytest.mark.parametrize("form", FORMS)
def test_a_time_late_in_the_evening_stays_on_its_day(site, form):
    number = SERIAL[1900] + 0.99999  # 23:59:59.1
    assert days(site, form, number, ENTRY + "serial_days_from = 1900\n") == ["2020-01-31"]


@pytest.mark.parametrize("form", ["xlsx from 1900", "xls from 1900"])
def test_a_workbook_from_1900_needs_no_declaration(site, form):
    assert days(site, form, SERIAL[1900]) == ["2020-01-31"]
    assert site.corrections() == [
        ("installed_on", "serial numbers read as days (calendar from 1900)", 1)]


def test_cells_with_a_date_format_go_by_the_workbook_whatever_is_declared(site):
    assert days(site, "xlsx from 1904", dt.date(2020, 1, 31),
                ENTRY + "serial_days_from = 1900\n") == ["2020-01-31"]


@pytest.mark.parametrize("form", ["xlsx from 1904", "csv"])
def test_check_shows_both_days_and_what_to_declare(site, form):
    days(site, form, SERIAL[1904])
    report = check_path(site.logs)
    try_rows(site.logs, report)
    assert ('# "installed_on": which day is 42399? Keep one: serial_days_from = 1900 (2016-01-30)'
            " or serial_days_from = 1904 (2020-01-31)") in report.proposal
    assert parse_mapping(report.proposal).file[0].serial_days_from is None
    assert [row["reason"] for row in report.refused] == [NOT_DECLARED]


def test_another_year_is_no_calendar(site):
    site.write("columns.toml", ENTRY + "serial_days_from = 1970\n")
    site.write("installations.csv", "installed_on,service_point\n")
    with pytest.raises(Exception, match="serial_days_from"):
        site.load()
