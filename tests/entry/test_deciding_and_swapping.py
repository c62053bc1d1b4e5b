"""Trials decided and hoses swapped in the pages: rows of the logs, and nothing else changed."""

import datetime as dt
import shutil
from pathlib import Path

import duckdb
import pytest

from etl import run
from etl.entry.decision import decided_rows
from etl.entry.swap import kept_rows, swap_rows
from etl.entry.take import n_rows_entered, take
from etl.errors import InputError
from etl.load import archive
from etl.load.publish import current_edition
from tests.faults.small import write_logs

PLACES = ("A-1", "A-2", "=B", "Å 3")
LOG = {"trials.csv":
       "trial,service_point,arm,construction,started_on,ended_on,pair,planned_end_on,"
       "planned_failures,expected_life_ratio,coin_seed,rule\n"
       "T 1,A-1,soft,C-1,2021-01-01,,01,2022-01-01,6.1,0.1,20260101,\"at the end, look\"\n"
       "T 1,A-2,hard,C-2,2021-01-01,,01,2022-01-01,6.1,10,20260101,\"at the end, look\"\n"
       "T 1,=B,hard,C-2,2021-01-01,2021-03-01,02,2022-01-01,6.1,10,20260101,\n"
       "T 2,Å 3,soft,C-2,2021-01-01,,,,,,,\n"}
BEFORE = [
    {"trial": "T 1", "service_point": place, "arm": arm, "construction": kind, "row_id": None,
     "started_on": dt.date(2021, 1, 1), "ended_on": ended, "decision": None,
     "decision_reason": None, "pair": pair, "planned_end_on": dt.date(2022, 1, 1),
     "planned_failures": 6.1, "early_failure_limit": None, "expected_life_ratio": ratio,
     "expected_life_ratio_log_sd": None, "coin_seed": 20260101, "rule": rule}
    for place, arm, kind, ended, pair, ratio, rule in (
        ("A-1", "soft", "C-1", None, "01", 0.1, "at the end, look"),
        ("A-2", "hard", "C-2", None, "01", 10.0, "at the end, look"),
        ("=B", "hard", "C-2", dt.date(2021, 3, 1), "02", 10.0, None))]
"""The rows of a trial as its edition holds them."""
HERE = {"service_point": "A-1", "hose_id": "009", "construction": "C-2", "part_number": "00124"}
THERE = {"service_point": "Å 3", "hose_id": None, "construction": "C-2", "part_number": None}
SAID = ("hard adopted", "2021-08-01", "twice the life, no early failure")


def decide(store, published, n_seen, *said, number=0):
    entry_id = f"{number:016d}"
    rows = decided_rows(store, entry_id, published, n_seen, *said)
    return take(store, "trials", entry_id, "Ann", rows, PLACES)


def published(store):
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        found = con.execute("select * from trials order by trial, service_point")
        names = [column[0] for column in found.description]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


@pytest.fixture(scope="module")
def built(loaded, tmp_path_factory):
    """Store with an edition made after a decision and a swap, each entered twice."""
    folder = tmp_path_factory.mktemp("decided")
    store = Path(shutil.copytree(loaded, folder / "store"))
    archive.add(store, write_logs(folder / "trials", LOG))
    swapped = swap_rows("2021-06-01", HERE, THERE | {"hose_id": "012"})
    for is_new in (True, False):
        assert decide(store, BEFORE, 0, *SAID).is_new is is_new
        for log, rows in swapped.items():
            assert take(store, log, "0" * 16, "Ann", rows, PLACES).is_new is is_new
    assert kept_rows(store, "0" * 16) == swapped
    assert kept_rows(store, "1" * 16) == {}
    run.load(None, store)
    return store


def test_a_decision_is_in_the_next_edition_beside_all_else_that_the_rows_said(built):
    store = built
    assert n_rows_entered(store, "trials") == 3
    rows = published(store)
    assert [row["state"] for row in rows] == [*["decided: hard adopted"] * 3, "running"]
    days = {row["service_point"]: row["ended_on"] for row in rows}
    assert days["A-1"] == days["A-2"] == dt.date(2021, 8, 1)
    assert days["=B"] == dt.date(2021, 3, 1)  # it left on a day of its own
    assert {row["decision_reason"] for row in rows[:3]} == {SAID[2]}
    assert [row["entered_by"] for row in rows] == ["Ann", "Ann", "Ann", None]
    assert all(row["entered_at"].startswith(f"{dt.date.today()}") for row in rows[:3])
    changed = {"ended_on", "decision", "decision_reason"}
    for row in BEFORE:
        (now,) = (item for item in rows if item["service_point"] == row["service_point"])
        assert {name: now[name] for name in row if name not in changed} == {
            name: cell for name, cell in row.items() if name not in changed}
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        assert con.execute("select cause, count(*) from superseded where log = 'trials' "
                           "group by all").fetchall() == [("corrected", 3)]
        assert con.execute("select source_file, fate from log_rows where log = 'trials' and "
                           "service_point = 'A-1' order by all").fetchall() == [
            ("trials.csv", "superseded"), ("trials.jsonl", "used")]
    with pytest.raises(InputError, match="nothing would change"):
        decided_rows(store, "1" * 16, rows[:3], 3, *SAID)
    opened = decided_rows(store, "1" * 16, rows[:3], 3, "", "", "entered at the wrong trial")
    assert all("decision" not in row for row in opened)
    assert [row.get("ended_on") for row in opened].count(None) == 2


def test_a_second_decision_stands_on_the_first_before_any_edition_has_it(tmp_path):
    decide(tmp_path, BEFORE, 0, *SAID)
    assert decide(tmp_path, BEFORE, 0, "hard adopted", "2021-08-02", "a day late", number=1).is_new
    assert not decide(tmp_path, BEFORE, 0, *SAID).is_new  # the first one sent again
    rows = decided_rows(tmp_path, "2" * 16, BEFORE, 0, "", "", "wrong trial")
    assert [row.get("ended_on") for row in rows] == [None, None, "2021-03-01"]


@pytest.mark.parametrize(("said", "wrong"), [
    (("hard adopted", "2021-08-01", " "), "say why"), (("", "", "x"), "say what was decided")])
def test_a_decision_says_what_and_why(tmp_path, said, wrong):
    published_rows = BEFORE[:2] if not said[0] else BEFORE
    with pytest.raises(InputError, match=wrong):
        decided_rows(tmp_path, "0" * 16, published_rows, 0, *said)


def test_what_a_loaded_row_may_not_say_an_entered_one_may_not(tmp_path):
    taken = decide(tmp_path, BEFORE, 0, "hard adopted", "2020-12-31", "a slip")
    assert "lies before the start" in taken.words
    assert n_rows_entered(tmp_path, "trials") == 0


def test_an_edition_that_lacks_columns_is_not_built_upon(tmp_path):
    lacking = [{name: cell for name, cell in row.items() if name != "rule"} for row in BEFORE]
    with pytest.raises(InputError, match="another version"):
        decided_rows(tmp_path, "0" * 16, lacking, 0, *SAID)


def test_each_hose_goes_on_at_the_other_place_with_its_age_and_make(built):
    with duckdb.connect(str(current_edition(built)), read_only=True) as con:
        found = con.execute(
            "select service_point, hose_id, construction, entry_age_days, removal_reason "
            "from lives where service_point in ('A-1', 'Å 3') and (installed_on = '2021-06-01' or "
            "removed_on = '2021-06-01') order by all").fetchall()
        assert con.execute("select count(*) from refused where source_file like '%.jsonl'"
                           ).fetchone() == (0,)
    days = {tag: float((dt.date(2021, 6, 1) - begun).days) for tag, begun in (
        ("009", dt.date(2021, 2, 1)), ("012", dt.date(2020, 4, 1)))}
    assert found == [
        ("A-1", "009", "C-2", 0.0, "relocated"), ("A-1", "012", "C-2", days["012"], "in service"),
        ("Å 3", "009", "C-2", days["009"], "in service"), ("Å 3", "012", "C-2", 0.0, "relocated")]


@pytest.mark.parametrize(("day", "there"), [
    ("soon", THERE), ("2021-06-01", THERE | {"service_point": "A-1"}),
    ("2021-06-01", THERE | {"hose_id": "009"})])
def test_what_is_no_swap_is_refused(day, there):
    with pytest.raises(InputError, match="two different places"):
        swap_rows(day, HERE, there)
