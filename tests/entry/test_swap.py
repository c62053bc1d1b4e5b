"""Two hoses that changed places, entered: as a swap declared beside the files, and more."""

import datetime as dt

import duckdb
import pytest

from etl import run
from etl.entry.swap import kept_rows, swap_rows
from etl.entry.take import take
from etl.errors import InputError
from etl.load.publish import current_edition

HERE = {"service_point": "A-1", "hose_id": "009", "construction": "C-2", "part_number": "00124"}
THERE = {"service_point": "Å 3", "hose_id": None, "construction": "C-2", "part_number": None}


def test_each_hose_goes_on_at_the_other_place_with_its_age_and_make(store):
    rows = swap_rows("2021-06-01", HERE, THERE | {"hose_id": "012"})
    for log in rows:
        for is_new in (True, False):
            assert take(store, log, "0" * 16, "Ann", rows[log], ("A-1", "Å 3")).is_new is is_new
    assert kept_rows(store, "0" * 16) == rows
    assert kept_rows(store, "1" * 16) == {}
    run.load(None, store)
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
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
