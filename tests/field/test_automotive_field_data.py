"""Vehicles by day of registration and of repair; most of those not repaired lack the former.

Source: package weibulltools 2.1.0 (GPL-2), data set field_data, which calls it an illustrative
field data set; the analysis date is stated there. Counts are facts of the file.
"""

import csv
import datetime as dt

import pytest

from etl.fit_file import fit_table
from tests.field.conftest import fitted

pytestmark = pytest.mark.field
DATA_SET = "automotive_field_data"
FILES = ("field_data.csv",)
AS_OF = dt.date(2015, 12, 31)


def test_rows_without_a_day_are_refused_not_dated(loaded):
    found = loaded.execute(
        "select log, column_name, reason, count(*) from clean.refused group by all order by all"
    ).fetchall()
    assert found == [("installations", "installed_on", "is not a date", 9_140)]


def test_tags_that_look_like_numbers_are_kept_as_written(loaded):
    assert loaded.execute("select count(*) from lives.stays where service_point = '1e+05'"
                          ).fetchall() == loaded.execute(
        "select count(*) from raw.installations where service_point = '1e+05' and"
        " installed_on <> 'NA'").fetchall()
    assert loaded.execute("select count(*) from clean.service_points").fetchall() == [(10_684,)]
    assert loaded.execute("select count(*) from raw.service_points where contains(area, '\\u0')"
                          ).fetchall() == [(299,)]


def test_registered_vehicles_give_the_reference_fit(loaded):
    """Shape 2.28197, characteristic life 679.6 days: our own run of scipy on days in service.

    A warning, too: leaving out rows without a day shortens the life by a factor 3.7, so the page
    Data health counts them.
    """
    found = fitted(loaded)
    assert found.n_failures[0] + found.n_intervals[0] == 684
    assert found.n_suspensions[0] == pytest.approx(1_544 - 684, abs=2)
    assert found.shape[0] == pytest.approx(2.28197, rel=0.02)
    assert found.characteristic_life[0] == pytest.approx(679.6, rel=0.02)


def test_days_in_service_of_all_vehicles_give_the_reference_fit(field_data):
    """Shape 1.83253 [1.7054, 1.9692] and 2492.5 days: our own run of scipy, Wald bounds of 95 %."""
    with (field_data / DATA_SET / FILES[0]).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = fit_table({"time": [row["dis"] for row in rows],
                       "kind": [("suspended", "failed")[int(row["status"])] for row in rows]},
                      0.95, bounds="normal")["groups"][0]
    assert (found["failures"], found["suspensions"]) == (684, 10_684 - 684)
    assert found["shape"]["estimate"] == pytest.approx(1.83253, rel=1e-5)
    assert found["shape"]["low"] == pytest.approx(1.7054, rel=1e-4)
    assert found["shape"]["high"] == pytest.approx(1.9692, rel=1e-4)
    assert found["characteristic_life"]["estimate"] == pytest.approx(2492.54, rel=1e-5)
