"""Maintenance work orders of five excavators, of which some are about hoses.

Source: excavators.csv and excavators-cleaned.csv as released by NIST; Hodkiewicz and Ho (2016),
"Cleaning historical maintenance work order data for reliability analysis", Journal of Quality in
Maintenance Engineering 22(2) 146-163. Counts and sums are facts of the files.
"""

import datetime as dt
from decimal import Decimal

import pytest

from etl.fit_file import fit_table
from etl.load import warehouse
from etl.load.delimited import Job
from etl.load.extract import Dialect, Wanted
from etl.load.readers import read
from tests.field.conftest import fitted, gathered, layers

pytestmark = pytest.mark.field
DATA_SET = "excavator_work_orders"
FILES = ("excavators-cleaned.csv",)
AS_OF = dt.date(2012, 12, 13)
FIRST = "installed_on > date '1990-01-01'"
"""The hose that sat there when the records began is no interval between two orders."""


@pytest.fixture(scope="module")
def orders(field_data, tmp_path_factory):
    """All orders as removals, whatever they are about."""
    folder = gathered(tmp_path_factory.mktemp("orders"), field_data / DATA_SET, FILES,
                      f"{DATA_SET}/all_orders")
    with layers(folder, tmp_path_factory.mktemp("store")) as con:
        yield con


def test_orders_about_hoses_are_kept_and_the_others_counted(loaded):
    assert loaded.execute("select count(*) from raw.replacements").fetchall() == [(441,)]
    assert loaded.execute(
        "select service_point, count(*) from raw.replacements group by all order by all"
    ).fetchall() == [("A", 10), ("B", 80), ("C", 86), ("D", 203), ("E", 62)]
    assert loaded.execute("select distinct n_skipped from raw.loads where source_file ="
                          " 'excavators-cleaned.csv'").fetchall() == [(5_485 - 441,)]


@pytest.mark.parametrize(("asset", "n_lives", "shape", "life"), [
    (None, 361, 0.80920, 27.0594), ("A", 10, 0.60667, 126.467), ("B", 66, 0.77751, 17.7309),
    ("C", 69, 0.86858, 42.7054), ("D", 161, 1.04945, 19.3309), ("E", 55, 0.93479, 36.9832)])
def test_days_between_orders_give_the_reference_fits(loaded, asset, n_lives, shape, life):
    """Our own run of scipy on the days between orders of a machine, the last one censored."""
    found = fitted(loaded, FIRST + (f" and service_point = '{asset}'" if asset else ""))
    n_machines = 1 if asset else 5
    # A suspension of no days carries no information and is not fitted.
    assert found.n_failures[0] == n_lives - n_machines
    assert found.shape[0] == pytest.approx(shape, rel=1e-4)
    assert found.characteristic_life[0] == pytest.approx(life, rel=1e-4)


def test_rows_shifted_by_broken_quoting_are_told_by_their_words(orders):
    """5,485 rows; in two of them the cells moved on by one place, so that codes are no codes."""
    assert orders.execute("select count(*) from raw.replacements").fetchall() == [(5_485,)]
    assert orders.execute(
        "select column_name, value, reason from clean.refused where reason <> 'is negative'"
        " order by all").fetchall() == [
            ("part_cost", "PM01", "is not an amount"),
            ("planned", "Electrical System Field Devices", "is not yes or no"),
            ("reason", "t swing", "is not one of the known words")]
    assert orders.execute("select column_name, value from clean.refused_cells").fetchall() == [
        ("planned", 'MECH - CONTROLS\\""')]


def test_costs_add_up(orders):
    """6 negative amounts of -339.81 to -25.76; the others of the rows that were not shifted."""
    negative = orders.execute(
        "select min(value::decimal(18, 2)), max(value::decimal(18, 2)), count(*)"
        " from clean.refused where reason = 'is negative'").fetchall()
    assert negative == [(Decimal("-339.81"), Decimal("-25.76"), 6)]
    total = orders.execute(
        "select sum(try_cast(part_cost as decimal(18, 2))) from raw.replacements"
        " where reason like 'PM%' and planned in ('0', '1', 'NA')").fetchall()
    assert total == [(Decimal("17504444.53"),)]
    assert orders.execute(
        "select count(*) from clean.superseded where log = 'replacements' and cause = 'repeat'"
    ).fetchall() == [(37,)]


def test_running_times_of_hose_orders_give_the_reference_fit(field_data, tmp_path):
    """Shape 0.67465 and 24.80: our own run of scipy on RunningTime > 0, two of them suspended."""
    with warehouse.connect() as con:
        job = Job(con, field_data / DATA_SET / FILES[0], FILES[0], "raw.one", tmp_path, Wanted(),
                  Dialect())
        extract = read(job)
        place = {name: f"c{i}" for i, name in enumerate(extract.header)}
        rows = con.execute(
            f"select try_cast({place['RunningTime']} as double) as time, {place['SuspSugg']} = '1'"
            f" from {extract.table} where {place['OriginalShorttext']} ilike '%hose%' and time > 0"
        ).fetchall()
    found = fit_table({"time": [row[0] for row in rows],
                       "kind": ["suspended" if row[1] else "failed" for row in rows]})["groups"][0]
    assert (found["failures"], found["suspensions"]) == (366, 2)
    assert found["shape"]["estimate"] == pytest.approx(0.67465, rel=1e-4)
    assert found["characteristic_life"]["estimate"] == pytest.approx(24.8014, rel=1e-4)


def test_the_export_without_cleaning_holds_the_same_orders(field_data, tmp_path):
    with warehouse.connect() as con:
        job = Job(con, field_data / DATA_SET / "excavators.csv", "excavators.csv", "raw.one",
                  tmp_path, Wanted(), Dialect())
        extract = read(job)
        assert extract.n_records == 5_486
        assert con.execute(f"select count(*), count(distinct {extract.table}) from {extract.table}"
                           ).fetchall() == [(5_485, 5_485 - 358)]
