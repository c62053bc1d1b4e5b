"""Textbook sets of recurring and single failures as the statistics package survival keeps them.

Source: package survival 3.5-3 (LGPL 2 or later), data sets valveSeat and genfan; Nelson (1995) and
Meeker and Escobar (1998). Counts are facts of the files; fits are our own runs of survreg,
lifelines and scipy.
"""

import csv
import datetime as dt

import pytest

from etl.fit_file import fit_table
from tests.field.conftest import fitted, gathered, layers

pytestmark = pytest.mark.field
DATA_SET = "r_survival_reliability"
START = dt.date(2000, 1, 1)


def rows(field_data, name):
    with (field_data / DATA_SET / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def seats(field_data, tmp_path_factory):
    """Valve seats as logs: a replacement is a removal and an installation of one day."""
    folder = tmp_path_factory.mktemp("seats")
    found = [(row["id"], START + dt.timedelta(int(row["time"])), row["status"])
             for row in rows(field_data, "valveSeat.csv")]
    gathered(folder, field_data, (), DATA_SET)
    with (folder / "valve_seats.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("number", "id", "day", "status"), *(
            (number, *row) for number, row in enumerate(found))])
    with (folder / "engines.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([
            ("service_point", "application_class", "installed_on", "retired_on"),
            *((name, "engine", START, day) for name, day, status in found if status == "0")])
    with layers(folder, tmp_path_factory.mktemp("store"), START + dt.timedelta(5000)) as con:
        yield con


def test_engines_replacements_and_exposure(seats):
    """41 engines, 48 replacements, 25,363 days; two seats went on one day in two engines."""
    assert seats.execute("select count(distinct service_point), count(removed_on),"
                         " count(*) filter (where removed_on = installed_on),"
                         " sum(ended_on - installed_on) from lives.stays").fetchall() == [
        (41, 48, 2, 25_363)]
    assert seats.execute("select n, count(*) from (select count(removed_on) as n from lives.stays"
                         " group by service_point) group by n order by n").fetchall() == [
        (0, 17), (1, 9), (2, 8), (3, 5), (4, 2)]


@pytest.mark.parametrize(("where", "n_failures", "n_lives", "shape", "life"), [
    ("installed_on = date '2000-01-01'", 24, 41, 1.14699, 671.151),
    ("kind <> 'interval'", 46, 87, 1.06528, 542.130)], ids=["first lives", "all but the same day"])
def test_lives_give_the_reference_fits(seats, where, n_failures, n_lives, shape, life):
    found = fitted(seats, where)
    assert (found.n_failures[0], found.n_failures[0] + found.n_suspensions[0]) == (
        n_failures, n_lives)
    assert found.shape[0] == pytest.approx(shape, rel=1e-5)
    assert found.characteristic_life[0] == pytest.approx(life, rel=1e-5)


def test_fans_give_the_reference_fit(field_data):
    """Shape 1.058446, characteristic life 26,296.85 hours, log likelihood -135.1527: survreg."""
    fans = rows(field_data, "genfan.csv")
    [found] = fit_table({"time": [row["hours"] for row in fans],
                         "kind": [("suspended", "failed")[int(row["status"])] for row in fans]}
                        )["groups"]
    assert (found["failures"], found["suspensions"]) == (12, 58)
    assert found["shape"]["estimate"] == pytest.approx(1.058446, rel=1e-6)
    assert found["characteristic_life"]["estimate"] == pytest.approx(26_296.85, rel=1e-6)
    assert found["log_likelihood"] == pytest.approx(-135.1527, abs=1e-4)
