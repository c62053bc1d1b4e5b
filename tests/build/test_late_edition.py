"""An edition whose logs come late allows for the failures that nobody has entered yet."""

import datetime as dt

import duckdb
import numpy as np
import pytest

from etl import run
from etl.load.publish import current_edition
from tests.build.track_fleet import arrive, events, logs, new_store

ENDS = [dt.date.fromisoformat(day) for day in (
    "2024-04-30", "2024-05-31", "2024-06-30", "2024-07-31", "2024-08-31", "2024-09-30",
    "2024-10-31", "2024-11-30")]
N_PLACES = 240


def entered(row, at):
    """Return the month end by which a failure is entered: every second one a month late."""
    months = [number for number, end in enumerate(ENDS) if row[0] <= end]
    return months[0] + (at % 2 if months[0] else 0) if months else len(ENDS)


def made(tmp, *, is_late):
    store, since = new_store(tmp / "store"), None
    rows = events(N_PLACES)
    known = [entered(row, at if is_late else 0) for at, row in enumerate(rows)]
    for number, end in enumerate(ENDS):
        mine = [row for row, month in zip(rows, known, strict=True) if month == number]
        folder = logs(tmp / f"logs-{end}", end.isoformat(), since, end, n_places=N_PLACES,
                      rows=mine)
        arrive(store, folder, end + dt.timedelta(days=2))
        since = end
    run.load(None, store, as_of=ENDS[-1].isoformat())
    return store, sum(row[0] <= ENDS[-1] and month == len(ENDS)
                      for row, month in zip(rows, known, strict=True))


def ask(store, query):
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        return con.execute(query).fetchall()


ALLOWED = ("select late_failures, late_failures_lower, late_failures_upper, on_record_in_month, "
           "months_until_on_record from edition")
NEXT_MONTH = ("select mean from forecast where scope = 'fleet' order by month limit 1")
SURVIVAL = "select avg(survival) from place_survival where age_days between 200 and 600"
FITS = ("select application_class, mechanism, n_lives, n_failures, characteristic_life_days "
        "from fits order by all")


@pytest.fixture(scope="module")
def late(tmp_path_factory):
    return made(tmp_path_factory.mktemp("late"), is_late=True)


def test_failures_not_entered_yet_are_allowed_for(late):
    store, missing = late
    ((told, low, high, in_month, months),) = ask(store, ALLOWED)
    assert missing >= 3
    assert 0 < low < high
    assert abs(told - missing) < 3.0 * missing**0.5  # their number is chance
    assert in_month == pytest.approx(0.5, abs=0.2)
    assert months == 1


def test_logs_that_come_in_time_are_taken_as_they_stand(tmp_path):
    store, missing = made(tmp_path, is_late=False)
    assert missing == 0
    assert ask(store, ALLOWED) == [(0.0, 0.0, 0.0, 1.0, 0)]


def test_without_the_correction_next_month_would_stand_too_high(late, tmp_path, monkeypatch):
    corrected, _ = late
    monkeypatch.setattr("etl.build.edition.recorded_now", lambda *_: np.ones(1))
    plain, _ = made(tmp_path, is_late=True)
    assert ask(plain, ALLOWED)[0][0] == 0.0
    assert ask(plain, NEXT_MONTH)[0][0] > 1.02 * ask(corrected, NEXT_MONTH)[0][0]
    # A place's curve is that of the law that the forecasts rest on.
    assert ask(plain, SURVIVAL)[0][0] > ask(corrected, SURVIVAL)[0][0] + 0.005
    assert ask(plain, FITS) == ask(corrected, FITS)  # each kind alone: the record as it stands

