"""Entered rows in an edition: as rows of the same logs, by the same rules, with who and when."""

import datetime as dt
import json

import duckdb
import pytest

from etl import run
from etl.entry.journal import append
from etl.entry.take import take
from etl.load.columns import LOGS
from etl.load.entered import FIRST_LOAD, batches, journal_path, read_journal
from etl.load.publish import current_edition
from tests.faults.small import write_logs

TODAY = dt.date.today().isoformat()
PLACES = ("A-1", "A-2", "=B", "Å 3")
HOSE = {"hose_id": "007", "service_point": "A-1", "removed_on": "2020-06-01"}


def found(finding, value="yes", **more):
    return {"examined_on": TODAY, "finding": finding, "value": value, **HOSE, **more}


class Entering:
    """Enters rows one after another, each with an id of its own."""

    def __init__(self, store):
        self.store, self.n = store, 0

    def __call__(self, log, *rows, who="Ann"):
        self.n += 1
        taken = take(self.store, log, f"{self.n:016d}", who, rows, PLACES)
        assert taken.is_kept, taken.words
        return taken


@pytest.fixture
def enter(store):
    return Entering(store)


def ask(store, statement):
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        return con.execute(statement).fetchall()


def test_findings_are_in_the_next_edition_with_who_and_when(store, enter):
    enter("teardowns", found("crk_circ"), found("pit_id", "no"))
    enter("teardowns", found("mechanism", "braid_wear"))
    run.load(None, store)
    assert ask(store, "select finding, state, confirmed_mechanism from teardown_findings") == [
        ("crk_circ", "present", "braid_wear"), ("pit_id", "absent", "braid_wear")]
    assert ask(store, "select n_checked, n_unread from teardown_evidence where rank = 1") == [
        (2, 0)]
    rows = ask(store, "select source_file, source_row, cells, fate from log_rows "
                      "where source_file = 'teardowns.jsonl' order by source_row")
    assert [(file, row, fate) for file, row, _, fate in rows] == [
        ("teardowns.jsonl", 1, "used"), ("teardowns.jsonl", 2, "used"),
        ("teardowns.jsonl", 3, "used")]
    assert json.loads(rows[0][2])["entered by"] == "Ann"
    assert json.loads(rows[0][2])["entered at"].startswith(TODAY)


def test_rows_read_are_rows_used_superseded_and_refused(store, enter):
    enter("teardowns", found("crk_circ"))
    enter("teardowns", found("crk_circ", "no"))
    enter("teardowns", found("dent"))
    enter("teardowns", found("dent", deleted="yes"))
    path = journal_path(store, "teardowns")
    path.write_bytes(path.read_bytes() + path.read_bytes().splitlines(keepends=True)[0]
                     + b'{"at": "2026-11-01T08:00:00+00:00", "entry_id": "cut off')
    run.load(None, store)  # the build stops where the balance does not hold
    assert ask(store, "select sum(n_clean), sum(n_superseded), sum(n_refused), sum(n_skipped) "
                      "from loads where log = 'teardowns'") == [(1, 3, 1, 1)]
    assert ask(store, "select finding, state from teardown_findings") == [("crk_circ", "absent")]
    assert ask(store, "select source_row, reason, remedy from refused "
                      "where source_file = 'teardowns.jsonl'") == [
        (6, "was cut short while it was being written",
         "It was never confirmed to whoever entered it. Enter it again.")]


def test_a_look_today_counts_and_leaves_the_data_date_alone(store, enter):
    before = ask(store, "select as_of, n_lives, n_failures from edition")
    enter("inspections", {"inspected_on": TODAY, "service_point": "A-1", "condition": "worn"})
    enter("teardowns", found("crk_circ"))
    run.load(None, store)
    assert ask(store, "select as_of, n_lives, n_failures from edition") == before
    assert ask(store, "select count(*) from refused where source_file like '%.jsonl'") == [(0,)]
    run.load(None, store, as_of="2021-06-30")  # made again for an earlier day, it knows neither
    assert ask(store, "select reason, count(*) from refused where source_file like '%.jsonl' "
                      "group by all") == [("lies after the data date", 2)]


def test_a_removal_entered_after_the_data_date_moves_it_like_any_removal(store, enter):
    enter("replacements", {"removed_on": "2021-10-01", "service_point": "A-1", "hose_id": "009",
                           "reason": "planned"})
    run.load(None, store)
    assert ask(store, "select as_of from edition") == [(dt.date(2021, 10, 1),)]


def test_an_entry_corrects_a_loaded_row_and_a_later_file_corrects_the_entry(store, enter, tmp_path):
    row = {"removed_on": "2020-06-01", "service_point": "A-1", "hose_id": "007"}
    statement = ("select removal_reason from lives where service_point = 'A-1' "
                 "and removed_on = '2020-06-01'")
    assert ask(store, statement) == [("failed",)]
    enter("replacements", row | {"reason": "planned"})
    run.load(None, store)
    assert ask(store, statement) == [("planned",)]
    assert ask(store, "select cause from superseded where source_file = 'replacements.csv'") == [
        ("corrected",), ("repeat",)]
    later = {"replacements_2199-01-01.csv":
             "removed_on,service_point,hose_id,reason\n2020-06-01,A-1,007,upgraded\n"}
    run.load(write_logs(tmp_path / "later", later), store)
    assert ask(store, statement) == [("upgraded",)]


def test_a_removal_taken_back_leaves_the_hose_in_service(store, enter):
    enter("replacements", {"removed_on": "2021-07-01", "service_point": "=B", "hose_id": "+11",
                           "reason": "failed", "deleted": "yes"})
    run.load(None, store)
    assert ask(store, "select is_open from lives where service_point = '=B'") == [(True,)]


def test_hostile_words_come_out_as_they_went_in(store, enter):
    texts = ["=1+1", "<script>alert(1)</script>", "'; drop table lives; --", "../../x", "a\nb",
             "{{ 7 * 7 }}", "$as_of", "шланг \u202e", 'a"b\\c']
    for number, text in enumerate(texts):
        day = (dt.date(2021, 1, 1) + dt.timedelta(days=number)).isoformat()
        enter("inspections", {"inspected_on": day, "service_point": "A-1", "condition": "good",
                              "note": text}, who="Ann'; drop table lives; --")
    run.load(None, store)
    rows = ask(store, "select cells from log_rows where log = 'inspections' order by happened_on")
    assert [json.loads(cells)["note"] for cells, in rows] == texts
    assert ask(store, "select count(*) from lives") != [(0,)]


def test_text_that_no_page_would_send_does_not_stop_a_build(store):
    row = {"inspected_on": TODAY, "service_point": "A-1", "condition": "good"}
    append(store, "inspections", "0" * 16, "\ud800", [row | {"note": "\udfff half a sign"}])
    append(store, "inspections", "1" * 16, "Ann", [row | {"no such column": "x"}])
    append(store, "inspections", "2" * 16, "Ann", [{"condition": "excellent"}])
    path = journal_path(store, "inspections")
    path.write_bytes(path.read_bytes() + b'{"entry_id": "3", "who": null, "at": 7, "rows": [1]}\n')
    run.load(None, store)
    reasons = ask(store, "select distinct source_row, reason from refused "
                         "where source_file = 'inspections.jsonl' order by all")
    assert {row for row, _ in reasons} == {3, 4}


def test_entries_of_a_day_make_one_load_until_a_key_comes_again(store, enter):
    for finding, value in (("dent", "yes"), ("kink", "no"), ("dent", "no"), ("kink", "yes")):
        enter("teardowns", found(finding, value))
    enter("teardowns", found("wrench"), who="Bob")
    made = batches(LOGS["teardowns"], read_journal(store, "teardowns"))
    assert [batch.n_rows for batch in made] == [2, 2, 1]
    assert [batch.who for batch in made] == ["Ann", "Ann", "Bob"]
    numbers = [batch.load_id for batch in made]
    assert numbers == sorted(numbers)
    assert numbers[0] >= FIRST_LOAD
    enter("teardowns", found("braid_rub"), who="Bob")
    again = batches(LOGS["teardowns"], read_journal(store, "teardowns"))
    assert [batch.load_id for batch in again] == numbers
    others = batches(LOGS["inspections"], read_journal(store, "inspections"))
    assert not set(numbers) & {batch.load_id for batch in others}
