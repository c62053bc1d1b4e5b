"""Forecasts of earlier months: made once from what was known, kept, and set against what came."""

import datetime as dt
import shutil

import duckdb
import pytest

from etl import run
from etl.load.publish import current_edition
from tests.build.track_fleet import arrive, events, logs, new_store

MONTHS = ("2024-08-31", "2024-09-30", "2024-10-31", "2024-11-30", "2024-12-31")


def day(text):
    return dt.date.fromisoformat(text)


def fill(store, tmp, months, left_out=0):
    """Let the logs of each month come on the second of the next."""
    since = None
    for until in map(day, months):
        folder = tmp / f"logs-{until}"
        missing = left_out if until == day(months[-1]) else 0
        logs(folder, until.isoformat(), since, until, left_out=missing)
        arrive(store, folder, until + dt.timedelta(days=2))
        since = until


def build(store, as_of, *, track_record=True):
    """Load what the archive holds; return the months that were forecast from."""
    said = []
    run.load(None, store, as_of=as_of, track_record=track_record, say=said.append)
    return [line.split(" from ")[1].rpartition(",")[0] for line in said
            if line.startswith("forecasting from")]


def ask(store, query, *values):
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        return con.execute(query, list(values)).fetchall()


def kept(store, table="counts"):
    return {path.name[:10]: path.read_bytes()
            for path in sorted((store / "track").glob(f"*-{table}.parquet"))}


def rows(store, origin, table="counts"):
    path = store / "track" / f"{origin}-{table}.parquet"
    return duckdb.sql(f"select * from '{path}' order by all").fetchall()


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    tmp = tmp_path_factory.mktemp("track")
    store = new_store(tmp / "store")
    fill(store, tmp, MONTHS[:4])
    assert build(store, "2024-11-30") == [
        f"{month} 2024 (as known then)" for month in ("August", "September", "October")]
    return store


def test_outcomes_are_the_failures_that_came(record):
    found = ask(record, "select as_of, until, horizon_months, observed from track_forecasts "
                "where scope = 'fleet' and observed is not null order by 1, 3")
    assert [(str(a), h) for a, _, h, _ in found] == [
        ("2024-08-31", 1), ("2024-08-31", 3), ("2024-09-30", 1), ("2024-10-31", 1)]
    for as_of, until, _, observed in found:
        assert observed == sum(as_of < row[0] <= until for row in events())


def test_spans_that_are_not_over_have_no_outcome_and_no_score(record):
    assert ask(record, "select count(*) from track_forecasts where until > date '2024-11-30' "
               "and (observed is not null or pit is not null or crps is not null)") == [(0,)]
    assert ask(record, "select distinct horizon_months from track_scores "
               "where scope = 'fleet' order by 1") == [(1,), (3,)]


def test_every_scope_and_rival_is_scored(record):
    assert ask(record, "select distinct scope from track_forecasts order by 1") == [
        ("application_class",), ("fleet",), ("line",), ("site",)]
    methods = ask(record, "select distinct method from track_scores where measure = 'crps' "
                  "order by 1")
    assert methods == [("constant rate",), ("forecast",), ("last year",), ("plug-in",)]
    assert ask(record, "select count(*) from track_scores where scope = 'place' "
               "and measure = 'brier' and horizon_months = 3") == [(4,)]


def test_naive_forecasts_are_what_their_names_say(record):
    last_year = ask(record, "select last_year_mean from track_forecasts where scope = 'fleet' "
                    "and as_of = date '2024-10-31' and horizon_months = 12")[0][0]
    assert last_year == pytest.approx(
        sum(day("2023-10-31") < row[0] <= day("2024-10-31") for row in events()), rel=1e-6)
    daily = ask(record, "select constant_rate_mean / 365.25 from track_forecasts "
                "where scope = 'fleet' and as_of = date '2024-10-31' and horizon_months = 12")
    n = sum(row[0] <= day("2024-10-31") for row in events())
    per_place = n / (60 * (day("2024-10-31") - dt.date(2021, 1, 1)).days)
    assert daily[0][0] == pytest.approx(60 * per_place, rel=0.02)


def test_a_forecast_does_not_depend_on_what_came_after(record, tmp_path):
    store = new_store(tmp_path / "store")
    fill(store, tmp_path, MONTHS[:3])
    build(store, "2024-11-30")
    for table in ("counts", "places"):
        assert rows(store, "2024-10-31", table) == rows(record, "2024-10-31", table)


def test_rows_entered_late_would_have_changed_it(record, tmp_path):
    store = new_store(tmp_path / "store")
    fill(store, tmp_path, MONTHS[:3], left_out=3)
    build(store, "2024-11-30")
    assert rows(store, "2024-10-31", "places") != rows(record, "2024-10-31", "places")
    assert rows(store, "2024-09-30", "places") == rows(record, "2024-09-30", "places")


@pytest.fixture
def copy(record, tmp_path):
    return shutil.copytree(record, tmp_path / "store")


def test_a_later_load_adds_the_new_month_only(copy, tmp_path):
    before = kept(copy)
    folder = logs(tmp_path / "december", "december", day(MONTHS[3]), day(MONTHS[4]))
    arrive(copy, folder, day("2025-01-02"))
    assert build(copy, "2024-12-31") == ["November 2024 (as known then)"]
    after = kept(copy)
    assert {name: after[name] for name in before} == before
    assert set(after) - set(before) == {"2024-11-30"}
    assert ask(copy, "select distinct as_of::varchar from track_forecasts order by 1") == [
        ("2024-09-30",), ("2024-10-31",), ("2024-11-30",)]
    assert build(copy, "2024-12-31") == []


def test_without_the_option_kept_forecasts_are_still_scored(copy):
    assert build(copy, "2024-11-30", track_record=False) == []
    assert ask(copy, "select count(distinct as_of) from track_forecasts") == [(3,)]


def test_other_settings_make_every_month_anew(copy):
    text = (copy / "settings.toml").read_text(encoding="utf-8")
    (copy / "settings.toml").write_text(text.replace("track_draws = 10", "track_draws = 8"),
                                        encoding="utf-8")
    build(copy, "2024-11-30", track_record=False)
    assert ask(copy, "select count(*) from track_forecasts") == [(0,)]
    assert len(build(copy, "2024-11-30")) == 3


def test_a_file_read_by_another_mapping_makes_the_months_that_saw_it_anew(copy, tmp_path):
    folder = logs(tmp_path / "october", "2024-10-31", day(MONTHS[1]), day(MONTHS[2]))
    (folder / "columns.toml").write_text(
        '[[file]]\nmatch = "installations_*.csv"\nlog = "installations"\n'
        '[[file]]\nmatch = "replacements_*.csv"\nlog = "replacements"\n'
        '[file.words.reason]\nfailed = "planned"\n', encoding="utf-8")
    september = rows(copy, "2024-09-30")
    arrive(copy, folder, day("2024-12-05"))
    build(copy, "2024-11-30", track_record=False)
    assert ask(copy, "select count(distinct as_of) from track_forecasts") == [(2,)]
    assert build(copy, "2024-11-30") == ["October 2024 (as known then)"]
    assert rows(copy, "2024-09-30") == september


def test_a_damaged_forecast_is_left_out_and_made_again(copy):
    file = copy / "track" / "2024-09-30-counts.parquet"
    whole = rows(copy, "2024-09-30")
    file.write_bytes(file.read_bytes()[:100])
    build(copy, "2024-11-30", track_record=False)
    assert ask(copy, "select count(distinct as_of) from track_forecasts") == [(2,)]
    assert build(copy, "2024-11-30") == ["September 2024 (as known then)"]
    assert rows(copy, "2024-09-30") == whole


def test_no_track_record_without_the_option_and_none_from_too_few_failures(tmp_path):
    store = new_store(tmp_path / "store")
    (store / "settings.toml").write_text(
        "n_draws = 20\ntrack_months = 2\nfew_failures = 100000\n", encoding="utf-8")
    fill(store, tmp_path, MONTHS[:2])
    assert build(store, "2024-09-30", track_record=False) == []
    assert not (store / "track").exists()
    assert len(build(store, "2024-09-30")) == 2
    assert build(store, "2024-09-30") == []  # an empty answer is kept as well
    for table in ("track_forecasts", "track_scores", "track_flags"):
        assert ask(store, f"select count(*) from {table}") == [(0,)]
