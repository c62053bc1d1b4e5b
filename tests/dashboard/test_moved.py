"""What moved since the edition of about a month before, and why."""

import datetime as dt
import shutil

import duckdb
import pytest

from dashboard.parts.month.moved import cause, moves
from dashboard.queries.earlier import Earlier
from tests.dashboard.edition_fleet import AS_OF
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import Reader

PLACE = {"service_point": "P", "rank": 3, "expected_cost": 1000.0, "expected_cost_lower": 600.0,
         "expected_cost_upper": 1500.0, "observed_failures": 4, "cost_per_failure": 500.0,
         "hose_id": "H1", "installed_on": dt.date(2026, 1, 2)}


def two(before, now):
    return Earlier(dt.date(2026, 9, 30), {row["service_point"]: row for row in before},
                   {row["service_point"]: row for row in now})


def test_a_cost_moves_from_a_tenth_on_and_the_largest_comes_first():
    before = [PLACE | {"service_point": name} for name in "ABC"]
    now = [PLACE | {"service_point": "A", "expected_cost": 1099.0},
           PLACE | {"service_point": "B", "expected_cost": 1101.0},
           PLACE | {"service_point": "C", "expected_cost": 700.0}]
    assert moves(two(before, now)) == ["C", "B"]


def test_crossing_the_border_of_the_ten_is_a_move_whatever_it_costs():
    assert moves(two([PLACE | {"rank": 11}], [PLACE | {"rank": 10}])) == ["P"]
    assert moves(two([PLACE | {"rank": 9}], [PLACE | {"rank": 10}])) == []
    assert moves(two([], [PLACE])) == ["P"]


@pytest.mark.parametrize(("change", "said"), [
    ({"observed_failures": 6}, "2 failures since"),
    ({"observed_failures": 3}, "1 failure fewer on record"),
    ({"cost_per_failure": 600.0}, "a failure costs £\xa0600 here, not £\xa0500"),
    ({"hose_id": "H2", "installed_on": dt.date(2026, 10, 5)}, "new hose since"),
    ({}, "more evidence at like places"),
    ({"cost_per_failure": 505.0}, "more evidence at like places"),
])
def test_the_cause_is_what_the_records_say(change, said):
    assert said in cause(PLACE, PLACE | change, "GBP")


@pytest.fixture
def store(tmp_path):
    """Two editions, the current one like the earlier but for one place."""
    make_edition(tmp_path, "full")
    (current,) = (tmp_path / "editions").glob("*.duckdb")
    shutil.copy(current, tmp_path / "editions" / "edition-000000.duckdb")
    return tmp_path


def change(store, statement, *values):
    with duckdb.connect(str(store / "editions" / "edition-000000.duckdb")) as con:
        con.execute(statement, list(values))


def test_this_month_names_what_moved(store):
    change(store, "update edition set as_of = ?", AS_OF - dt.timedelta(days=31))
    change(store, "update ranking set expected_cost = expected_cost / 2, "
           "observed_failures = observed_failures - 1 where rank = 1")
    text = Reader(store).text("/")
    assert "Moved since" in text
    assert "1 failure since" in text


@pytest.mark.parametrize("days", [0, 19, 101])
def test_an_edition_of_the_same_month_or_long_ago_is_no_measure(store, days):
    change(store, "update edition set as_of = ?", AS_OF - dt.timedelta(days=days))
    assert "Moved since" not in Reader(store).text("/")


def test_an_earlier_edition_that_cannot_be_read_costs_nothing(store):
    change(store, "update edition set as_of = ?", AS_OF - dt.timedelta(days=31))
    change(store, "drop table ranking")
    assert "Moved since" not in Reader(store).text("/")
    (store / "editions" / "edition-000000.duckdb").write_bytes(b"rubbish")
    assert "Ten places to act on" in Reader(store).text("/")
