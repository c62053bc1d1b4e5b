"""A load tells on the terminal and as JSON what became of each file, and what is in doubt."""

import json
import re

import duckdb
import pytest

from etl import run
from etl.build.doubts import WORDS
from etl.health import MOST_FILES, ONE_OF, Doubt, FileHealth, Health, LeftOut
from etl.load.publish import current_edition
from etl.outcome import Outcome
from tests.faults.small import FIRST, SECOND, new_store, write_logs

AGAIN = {"replacements_3.csv": "removed_on,service_point,hose_id,reason,last_seen_good_on\n"
         "2021-09-09,A-2,014,unknown,9999-12-31\n",
         "orders.csv": "inspected_on,service_point,condition,object\n2021-08-01,A-1,good,hose\n"
         "2021-08-01,A-2,good,gasket\n2021-08-01,=B,worn,valve\n",
         "columns.toml": '[[file]]\nmatch = "orders.csv"\nlog = "inspections"\n'
         '[file.keep]\nobject = "hose"\n'}


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    store = new_store(folder / "store")
    return store, run.load(write_logs(folder / "logs", FIRST, SECOND, AGAIN), store)


def test_every_file_is_told_with_what_became_of_its_rows(loaded):
    store, outcome = loaded
    told = json.loads(json.dumps(outcome.as_dict()))["health"]
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        expected = con.execute("select source_file, log, n_clean, n_superseded, n_refused "
                               "from loads where status = 'loaded'").fetchall()
        n_out = con.execute("select count(*) from lives where not is_fitted").fetchone()[0]
    found = [(item["source_file"], item["log"], item["n_used"], item["n_superseded"],
              item["n_refused"]) for item in told["files"]]
    assert sorted(found) == sorted(expected)
    assert sum(row[3] for row in expected) >= 2
    assert sum(row[4] for row in expected) >= 2
    assert sum(item["n_lives"] for item in told["left_out"]) >= n_out
    text = outcome.summary()
    for file, log, n_used, *_ in expected:
        assert re.search(rf"{re.escape(file)}, {log}: {n_used:,} used", text)
    assert "replacements_3.csv, replacements: 1 used, 1 cell corrected" in text
    assert "orders.csv, inspections: 1 used, 2 left out as the mapping says" in text
    assert text.count("left out as the mapping says") == 1


def test_doubts_are_told_with_the_other_reading(loaded):
    _, outcome = loaded
    found = {item.doubt: item for item in outcome.health.doubts}
    assert found["removals without a reason"].n_rows == 1
    assert "had every one been a failure" in found["removals without a reason"].effect
    assert "In doubt:\n" in outcome.summary()


def test_of_many_files_the_rest_is_counted():
    many = Health(tuple(FileHealth(f"{n}.csv", "stock", 1, 0, 0, 0, 0)
                        for n in range(MOST_FILES + 7)))
    assert many.lines()[-1] == "  and 7 more (braidlife export loads)."


def account(n):
    """Return the words of a load in which everything is there `n` times."""
    health = Health((FileHealth("a.csv", "stock", n, n, n, n, n),) * n,
                    (LeftOut("a.csv", "no time under observation", n),) * n,
                    tuple(Doubt(doubt, n, "moves nothing") for doubt, _, _ in WORDS))
    return Outcome(n, "2026-01-01", n, n, (), n, n, n, n, n, n, health).summary()


def test_one_of_a_kind_is_not_told_in_the_plural():
    assert re.findall(r"\b1 \w+s\b", account(1)) == []
    assert "1 failure without a concluded mechanism" in account(1)
    assert "1 place fails faster than its peers" in account(1)
    assert "2 failures without a concluded mechanism" in account(2)
    assert "2 places fail faster than their peers" in account(2)
    assert {doubt.split()[0] for doubt, _, _ in WORDS} == set(ONE_OF)
