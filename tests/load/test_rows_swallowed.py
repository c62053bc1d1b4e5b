"""No first row is taken for a header, and no row for a delimiter that it happens to hold.

Kind of duckdb/duckdb #25827 (header and first rows swallowed by the guess of a dialect), and of
pandas-dev/pandas #4793 (a byte order mark in the first name).
"""

import pytest

from etl.load.extract import Wanted
from etl.load.header import Header, find_header

PLACES = "service_point,application_class\n"


@pytest.mark.parametrize(("text", "expected"), [
    pytest.param("service_point\nP-200 new\nP-201; rebuilt\nP-202 | new; twice\n",
                 ["P-200 new", "P-201; rebuilt", "P-202 | new; twice"], id="one column"),
    pytest.param("service_point,note\nP-200,new\nP-201,x; y; z\n", ["P-200", "P-201"],
                 id="another delimiter inside"),
    pytest.param("service_point;note\nP-200;a,b,c,d\nP-201;e,f,g,h\n", ["P-200", "P-201"],
                 id="more commas than semicolons"),
    pytest.param("Service point,note\nservice_pt,x\nP-201,y\n", ["service_pt", "P-201"],
                 id="words in the first row"),
    pytest.param("service_point\n2020\n2021\n", ["2020", "2021"], id="numbers"),
])
def test_every_row_below_the_names_is_a_row(site, text, expected):
    site.write("places.csv", text)
    site.write("columns.toml", '[[file]]\nmatch = "places.csv"\nlog = "service_points"\n'
               'ignore = ["note"]\n[file.constants]\napplication_class = "a"\n')
    site.load()
    assert [row[0] for row in site.rows(
        "select service_point from raw.service_points order by source_row")] == expected
    assert site.is_balanced()


def test_gaps_written_as_words_make_no_names():
    records = [["month", "1007", "1008"], ["2020-01", "NA", "n/a"], ["2020-02", "3", "-"]]
    assert find_header(records, Wanted(), None) == Header(1, ("month", "1007", "1008"))


def test_names_that_look_like_data_are_names(site):
    """A header of part numbers only, as in a table of demand by month."""
    site.write("places.csv", "21029627,21029628,21029629\nP1,a,1\nP2,b,2\n")
    site.write("columns.toml", '[[file]]\nmatch = "places.csv"\nlog = "service_points"\n'
               'ignore = ["21029629"]\n[file.columns]\nservice_point = "21029627"\n'
               'application_class = "21029628"\n')
    site.load()
    assert site.rows("select service_point, application_class, other_cells"
                     " from raw.service_points order by source_row") == [
        ("P1", "a", '{"21029629":"1"}'), ("P2", "b", '{"21029629":"2"}')]


@pytest.mark.parametrize("content", [
    pytest.param(("\ufeff" + PLACES + "P1,a\n").encode(), id="UTF-8"),
    pytest.param(("\ufeff" + PLACES + "P1,a\n").encode("utf-16-le"), id="UTF-16, low byte first"),
    pytest.param(("\ufeff" + PLACES + "P1,a\n").encode("utf-16-be"), id="UTF-16, high byte first"),
    pytest.param(("\ufeff" + '"service_point","application_class"\n"P1","a"\n').encode(),
                 id="quoted names"),
    pytest.param(("\ufeff\ufeff" + PLACES + "P1,a\n").encode(), id="two marks"),
    pytest.param(("\ufeff\n" + PLACES + "P1,a\n").encode(), id="a blank first line"),
])
def test_a_byte_order_mark_is_no_part_of_the_first_name(site, content):
    site.write("service_points.csv", content)
    site.load()
    assert site.rows("select service_point, application_class from raw.service_points") == [
        ("P1", "a")]
    assert site.is_balanced()


def test_a_mark_between_two_files_put_together_is_no_part_of_a_tag(site):
    from etl.load.typing import build_clean

    site.write("service_points.csv", PLACES + "P1,a\n\ufeffP2,a\n")
    site.write("installations.csv", "installed_on,service_point\n2020-01-01,P2\n")
    site.load()
    build_clean(site.con, site.groups)
    assert site.rows("select service_point from clean.service_points order by all") == [
        ("P1",), ("P2",)]


def test_a_mapping_file_with_a_byte_order_mark_is_read(site):
    site.write("places.csv", "a,b\nP1,x\n")
    site.write("columns.toml", '\ufeff[[file]]\nmatch = "places.csv"\nlog = "service_points"\n'
               '[file.columns]\nservice_point = "a"\napplication_class = "b"\n')
    site.load()
    assert site.rows("select service_point from raw.service_points") == [("P1",)]
