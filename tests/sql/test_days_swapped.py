"""Day and month are never swapped, centuries never guessed, hours never mixed with days.

Kind of pandas-dev/pandas #26304 (day and month swapped row by row), opensanctions/opensanctions
#4974 (two-digit years) and python/cpython #96148 (elapsed time over a clock change).
"""

from __future__ import annotations

import pytest

from etl.load.mapping import TypingOptions
from tests.sql.tiny import AS_OF, ONE_PLACE, build, day, refused, rows

DAY_FIRST, MONTH_FIRST = "%d.%m.%Y", "%m.%d.%Y"


def installed(*cells: str, formats: tuple[str, ...] = (), pivot: int = 70, as_of=AS_OF):
    return build(as_of, service_points=ONE_PLACE,
                 options=TypingOptions((*formats, "%Y-%m-%d"), two_digit_year_pivot=pivot),
                 installations="installed_on,service_point,hose_id\n" + "".join(
                     f"{cell},P1,H{number}\n" for number, cell in enumerate(cells)))


def days(con):
    return [found for found, in rows(
        con, "select installed_on from clean.installations order by hose_id")]


@pytest.mark.parametrize(("form", "expected"), [
    (DAY_FIRST, ["2021-06-05", "2021-06-19"]), (MONTH_FIRST, ["2021-05-06", None])])
def test_one_format_is_used_for_every_row_or_none(form, expected):
    con = installed("05.06.2021", "19.06.2021", formats=(form,))
    assert days(con) == [day(text) for text in expected if text]
    assert len(refused(con)) == expected.count(None)


def test_without_a_format_nothing_is_guessed_and_the_cure_is_said():
    con = installed("05.06.2021", "19.06.2021")
    assert days(con) == []
    assert {row[3:] for row in refused(con)} == {("05.06.2021", "is not a date"),
                                                 ("19.06.2021", "is not a date")}
    assert rows(con, "select distinct remedy from clean.refused") == [
        ("Write it like 2024-02-29, or declare date_formats, and months where their names are not"
         " English, in columns.toml.",)]


def test_with_both_formats_only_days_of_one_reading_are_taken():
    con = installed("05.06.2021", "19.06.2021", "06.19.2021", "06.06.2021",
                    formats=(DAY_FIRST, MONTH_FIRST))
    assert days(con) == [day("2021-06-19"), day("2021-06-19"), day("2021-06-06")]
    assert refused(con) == [("installations", 2, "installed_on", "05.06.2021", "is not a date")]


@pytest.mark.parametrize(("pivot", "expected"), [
    (70, [None, "1970-11-07"]), (60, ["1968-11-05", "1970-11-07"]), (99, [None, None])])
def test_a_two_digit_year_lies_where_the_declared_pivot_puts_it_never_in_the_future(
    pivot, expected
):
    con = installed("05-Nov-68", "07-Nov-70", formats=("%d-%b-%y",), pivot=pivot)
    assert days(con) == [day(text) for text in expected if text]
    assert {reason for *_, reason in refused(con)} <= {"lies after the data date"}
    assert len(refused(con)) == expected.count(None)


def test_a_year_put_in_the_future_is_not_taken_for_the_data_date():
    con = installed("05-Nov-68", "07-Nov-19", formats=("%d-%b-%y",), as_of=None)
    assert rows(con, "select as_of from clean.data_date") == [(day("2019-11-07"),)]


@pytest.mark.parametrize(("cell", "form"), [
    ("2021-03-14 23:30:00-0400", "%Y-%m-%d %H:%M:%S%z"),
    ("14/03/2021 23:30 -04:00", "%d/%m/%Y %H:%M %z"), ("2021/03/14 23:30:00+00",
                                                       "%Y/%m/%d %H:%M:%S%z"),
    ("14.03.21 23:30 EST", "%d.%m.%y %H:%M %Z"), ("14.03.2021 23:30 America/New_York",
                                                  "%d.%m.%Y %H:%M %Z"),
    ("2021-03-14T23:30:00-04:00", "%Y-%m-%d"), ("2021-03-14T23:30:00Z", "%Y-%m-%d"),
    ("2021-03-14 23:30:00+1300", "%Y-%m-%d"),
])
def test_the_day_is_the_one_that_is_written_whatever_the_zone(cell, form):
    assert days(installed(cell, formats=(form,))) == [day("2021-03-14")]


def test_a_life_over_a_clock_change_lasts_whole_days():
    """In New York the 14th of March 2021 had 23 hours."""
    con = build(service_points=ONE_PLACE,
                installations="installed_on,service_point\n2021-03-13T12:00:00-05:00,P1",
                replacements="removed_on,service_point,reason\n2021-03-14T12:00:00-04:00,P1,failed")
    assert rows(con, "select age_low_days, age_high_days from lives.lives") == [(1.0, 1.0)]
