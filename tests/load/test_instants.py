"""Instants of a Parquet file become days by the clock of the declared place, clock changes kept."""

import re

import duckdb

from etl.load.typing import build_clean

ENTRY = '[[file]]\nmatch = "installations.parquet"\nlog = "installations"\n'
LATE = ("2021-03-14 03:30:00Z", "2021-03-15 03:30:00Z", "2021-11-08 04:30:00Z")
"""Late evenings in New York: between the first two the clock was put forward (the change of
python/cpython issue 96148), on the day of the last one back: else it would be the 8th."""


def days(site, mapping):
    site.write("columns.toml", mapping)
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    with duckdb.connect() as con:
        con.execute("copy (select unnest($days)::timestamptz as installed_on,"
                    " 'P1' as service_point)"
                    f" to '{site.logs.parent}/made.parquet' (format parquet)", {"days": list(LATE)})
    site.write("installations.parquet", (site.logs.parent / "made.parquet").read_bytes())
    site.load()
    build_clean(site.con, site.groups)
    return [str(day) for day, in site.rows(
        "select installed_on from clean.installations order by installed_on")]


def test_days_are_those_of_the_declared_place(site):
    assert days(site, ENTRY + 'time_zone = "America/New_York"\n') == [
        "2021-03-13", "2021-03-14", "2021-11-07"]
    assert site.corrections() == []


def test_without_a_place_the_clock_of_utc_is_used_and_told(site):
    assert days(site, "") == ["2021-03-14", "2021-03-15", "2021-11-08"]
    (column, what, n), = site.corrections()
    assert (column, n) == ("installed_on", 3)
    assert "declare time_zone" in what


def test_an_unknown_place_is_refused_with_the_nearest_one(site):
    site.write("columns.toml", ENTRY + 'time_zone = "America/New_Yrk"\n')
    with duckdb.connect() as con:
        con.execute(f"copy (select now() as installed_on, 'P1' as service_point)"
                    f" to '{site.logs.parent}/made.parquet' (format parquet)")
    site.write("installations.parquet", (site.logs.parent / "made.parquet").read_bytes())
    site.load()
    said = site.refusal("installations.parquet")
    assert re.search("unknown time zone 'America/New_Yrk'. Did you mean 'America/New_York'", said)
