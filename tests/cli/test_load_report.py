"""A load tells on the terminal and as JSON what became of each file, and what is in doubt."""

import json
import re

import duckdb
import pytest

from etl import run
from etl.health import MOST_FILES, FileHealth, Health
from etl.load.publish import current_edition
from tests.faults.small import FIRST, SECOND, new_store, write_logs

AGAIN = {"replacements_3.csv": "removed_on,service_point,hose_id,reason,last_seen_good_on\n"
         "2021-09-09,A-2,014,unknown,9999-12-31\n"}


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


def test_doubts_are_told_with_the_other_reading(loaded):
    _, outcome = loaded
    found = {item.doubt: item for item in outcome.health.doubts}
    assert found["removals without a reason"].n_rows == 1
    assert "had they all been failures" in found["removals without a reason"].effect
    assert "In doubt:\n" in outcome.summary()


def test_of_many_files_the_rest_is_counted():
    many = Health(tuple(FileHealth(f"{n}.csv", "stock", 1, 0, 0, 0) for n in range(MOST_FILES + 7)))
    assert many.lines()[-1] == "  and 7 more (braidlife export loads)."
