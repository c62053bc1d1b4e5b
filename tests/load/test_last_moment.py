"""An event in the last moments of a day stays on that day, however its file writes it.

Ends of days as programs write them (23:59:59.997, .999): common practice, no source.
"""

import datetime as dt

import duckdb
import pytest

from etl.load.typing import build_clean
from tests.load.new_workbook import Styled, book
from tests.load.old_workbook import old_book

PLACES = "service_point,application_class\nP1,a\n"
HEAD = ["installed_on", "service_point"]
SERIAL = 43_860  # 30 January 2020 in the calendar from 1900
LATE = (59.9, 59.5, 59.997, 59.999)


def days(site, name, content, mapping=""):
    site.write("service_points.csv", PLACES)
    site.write(name, content)
    if mapping:
        site.write("columns.toml", mapping)
    site.load()
    build_clean(site.con, site.groups, dt.date(2026, 1, 1))
    return [str(day) for day, in site.rows("select installed_on from clean.installations")]


@pytest.mark.parametrize("second", LATE)
@pytest.mark.parametrize("calendar", [1900, 1904])
@pytest.mark.parametrize("form", ["xlsx", "xls"])
def test_in_a_workbook(site, form, calendar, second):
    moment = dt.datetime(2020, 1, 30, 23, 59, 59) + dt.timedelta(seconds=second - 59)
    if form == "xlsx":
        serial = SERIAL - 1462 * (calendar == 1904) + (86_399 + second - 59) / 86_400
        made = book([HEAD, [Styled(serial, "yyyy-mm-dd hh:mm:ss"), "P1"]],
                    date_1904=calendar == 1904)
    else:
        made = old_book({"A": [HEAD, [moment, "P1"]]}, starts_1904=calendar == 1904)
    assert days(site, f"installations.{form}", made) == ["2020-01-30"]


@pytest.mark.parametrize("second", LATE)
def test_in_a_number_without_a_format(site, second):
    serial = SERIAL + (86_399 + second - 59) / 86_400
    assert days(site, "installations.xlsx", book([HEAD, [serial, "P1"]])) == ["2020-01-30"]


@pytest.mark.parametrize(("text", "form"), [
    ("2020-01-30 23:59:59.999", None), ("2020-01-30T23:59:59.999Z", None),
    ("2020-01-30T23:59:59.9+14:00", None), ("2020-01-30 23:59:59.9-1100", None),
    ("2020-01-30 24:00:00", None),
    ("30.01.2020 23:59:59", "%d.%m.%Y %H:%M:%S"), ("30.01.2020 23:59:59.999999999",
                                                    "%d.%m.%Y %H:%M:%S.%f"),
    ("01/30/2020 11:59:59 PM", "%m/%d/%Y %I:%M:%S %p"),
    ("30.01.2020 23:59:59.1234567 +0200", "%d.%m.%Y %H:%M:%S.%f %z"),
    ("30.01.20 23:59:59 +0200", "%d.%m.%y %H:%M:%S %z"),
    ("30.01.2020 23:59:59 America/New_York", "%d.%m.%Y %H:%M:%S %Z"),
])
def test_in_a_text(site, text, form):
    """The day is the one that is written, not that of another zone."""
    mapping = (f'[[file]]\nmatch = "installations.csv"\nlog = "installations"\n'
               f'date_formats = ["{form}"]\n') if form else ""
    assert days(site, "installations.csv", f"installed_on,service_point\n{text},P1\n",
                mapping) == ["2020-01-30"]


@pytest.mark.parametrize("kind", ["timestamp", "timestamp_ns", "timestamp_ms"])
def test_in_a_typed_column(site, kind):
    path = site.logs.parent / "made.parquet"
    with duckdb.connect() as con:
        con.execute(f"copy (select '2020-01-30 23:59:59.999'::{kind} as installed_on,"
                    f" 'P1' as service_point) to '{path}' (format parquet)")
    assert days(site, "installations.parquet", path.read_bytes()) == ["2020-01-30"]
