"""Each check of the track record passes on sound rows and fires on a bad one."""

import datetime as dt

import duckdb
import pytest

from tests.sql.tiny import faulty

FORECASTS = """
create table results.track_forecasts as
select date '2026-01-31' as as_of, date '2026-02-28' as until, 'as known then' as basis,
    scope, name as scope_name, 1 as horizon_months, 4.0::double as mean, 1 as lower, 7 as upper,
    3 as lower_50, 5 as upper_50, n as observed, 0.4::double as pit, 1.0::double as crps
from (values ('fleet', 'all', 5), ('application_class', 'loop', 3),
    ('application_class', 'drum', 2)) as t(scope, name, n)
"""
SCORES = """
create table results.track_scores as
select 'as known then' as basis, 'fleet' as scope, 1 as horizon_months, 'forecast' as method,
    'coverage_90' as measure, '' as band, 0.9::double as value, 0.8::double as lower,
    0.95::double as upper, 24 as n_forecasts
"""


@pytest.fixture
def con():
    with duckdb.connect() as con:
        con.execute("create schema results")
        con.execute(FORECASTS)
        con.execute(SCORES)
        yield con


@pytest.mark.parametrize(("check", "table", "change"), [
    ("track_numbers", "track_forecasts", "lower = 9"),
    ("track_numbers", "track_forecasts", "pit = 1.2"),
    ("track_numbers", "track_forecasts", "mean = 'nan'"),
    ("track_numbers", "track_forecasts", "until = date '2027-06-30'"),
    ("track_numbers", "track_forecasts", "observed = null"),
    ("track_numbers", "track_forecasts", "until = as_of"),
    ("track_scopes_add_up", "track_forecasts", "observed = observed + 1"),
    ("track_scores_numbers", "track_scores", "value = 1.2"),
    ("track_scores_numbers", "track_scores", "upper = null"),
    ("track_scores_numbers", "track_scores", "lower = 0.99"),
    ("track_scores_numbers", "track_scores", "value = 'nan'"),
    ("track_scores_numbers", "track_scores", "n_forecasts = 0"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, table, change):
    as_of = dt.date(2026, 3, 31)
    assert faulty(con, check, as_of=as_of) == []
    con.execute(f"update results.{table} set {change} where rowid = 0")
    assert len(faulty(con, check, as_of=as_of)) == 1
