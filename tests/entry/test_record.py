"""The record of a teardown: what its entries say together, and how it goes on."""

import numpy as np
import pandas as pd
import pytest

from etl.build.evidence_tables import read_evidence
from etl.build.teardown_table import teardown_evidence
from etl.entry.journal import append
from etl.entry.record import Hose, Writer, open_records, read_record
from etl.entry.running import STATES, judge_of

HOSE = Hose("H 1", "P 1", "2026-10-01")
MAKER = Writer(HOSE, "2026-11-20", "Ann")


class Book:
    """Enters rows into a record."""

    def __init__(self, store):
        self.store, self.n = store, 0

    def __call__(self, *rows, hose=HOSE, screen="x"):
        self.n += 1
        append(self.store, "teardowns", f"{self.n:016d}", "Ann", rows,
               {"record": hose.short, "screen": screen})


@pytest.fixture
def enter(tmp_path):
    return Book(tmp_path)


def test_a_record_that_nobody_began_is_empty(tmp_path):
    record = read_record(tmp_path, HOSE)
    assert (record.n_entries, record.permit, record.is_closed) == (0, None, False)
    assert open_records(tmp_path) == []


def test_the_latest_answer_counts_and_one_taken_back_is_none(tmp_path, enter):
    enter(MAKER.answer("dent", "present"), screen="look dent")
    enter(MAKER.answer("dent", "absent"))
    enter(MAKER.answer("kink", "present"))
    enter(MAKER.answer("kink", None))
    enter(MAKER.answer("wrench", "not checked"), screen="look wrench")
    record = read_record(tmp_path, HOSE)
    assert record.answers == {"dent": "absent", "wrench": "not checked"}
    assert record.touched == {"dent", "kink", "wrench"}
    assert record.last_screen == "look wrench"
    assert (record.examiner, record.examined_on) == ("Ann", "2026-11-20")


def test_notes_and_photographs_of_one_day_stand_beside_each_other(tmp_path, enter):
    enter(MAKER.made_safe("PTW 7"))
    enter(MAKER.note("in place", "bent"), MAKER.note("records", "old"))
    enter(MAKER.note("in place", "bent twice"))
    enter(MAKER.photograph("mark", "a.jpg"), MAKER.photograph("mark", "b.jpg"))
    enter(MAKER.photograph("mark", "a.jpg", is_kept=False), MAKER.note("records", ""))
    record = read_record(tmp_path, HOSE)
    assert record.permit == "PTW 7"
    assert record.notes == {"in place": "bent twice"}
    assert record.photographs == {"b.jpg": "mark"}
    assert len({row.get("row_id") for row in [
        MAKER.note("a", "x"), MAKER.note("b", "x"), MAKER.made_safe(""),
        MAKER.photograph("a", "p"), *MAKER.conclusion("unknown")]}) == 5


def test_a_record_closes_and_opens_again(tmp_path, enter):
    enter(MAKER.answer("dent", "present"))
    enter(*MAKER.conclusion("braid_wear"))
    closed = read_record(tmp_path, HOSE)
    assert (closed.is_closed, closed.concluded) == (True, "braid_wear")
    assert open_records(tmp_path) == []
    enter(*MAKER.reopened("braid_wear"))
    again = read_record(tmp_path, HOSE)
    assert (again.is_closed, again.concluded) == (False, None)
    assert again.answers == {"dent": "present"}
    assert [hose for hose, _ in open_records(tmp_path)] == [HOSE]


def test_records_of_other_hoses_are_others(tmp_path, enter):
    untagged = Hose("", "P 1", "2026-10-01")
    enter(MAKER.answer("dent", "present"))
    enter(Writer(untagged, "2026-11-20", "Ann").answer("kink", "present"), hose=untagged)
    assert read_record(tmp_path, HOSE).answers == {"dent": "present"}
    assert read_record(tmp_path, untagged).answers == {"kink": "present"}
    assert HOSE.short != untagged.short
    assert len(open_records(tmp_path)) == 2


CASES = [
    ({"crk_circ": "present", "loc_end": "present", "pit_id": "absent"}, "vib_fatigue"),
    ({"crest_marks": "present", "red_debris": "present"}, "braid_wear"),
    ({"crk_45": "present", "braid_skew": "present", "dent": "absent"}, None),
    ({"crk_circ": "present", "vib_high": "present"}, None),
]


@pytest.mark.parametrize("at", range(len(CASES)))
def test_the_running_suggestion_is_the_one_that_an_edition_publishes(at):
    evidence = read_evidence()
    column = {name: number for number, name in enumerate(evidence.table.findings)}
    states = np.zeros((len(CASES), len(column)), np.int8)
    for row, (found, _) in enumerate(CASES):
        for name, state in found.items():
            states[row, column[name]] = STATES[state]
    frame = teardown_evidence(evidence, pd.DataFrame({
        "teardown": range(len(CASES)), "life_id": range(len(CASES)), "hose_id": "h",
        "service_point": "p", "removed_on": pd.Timestamp("2026-10-01"),
        "examined_on": pd.Timestamp("2026-10-02"), "n_unread": 0, "logged_mechanism": None,
        "confirmed_mechanism": [mechanism for _, mechanism in CASES], "is_open": False}), states)
    judge = judge_of([{"found": found, "confirmed_mechanism": mechanism}
                      for found, mechanism in CASES])
    told = judge.judge(CASES[at][0])
    published = frame[frame["life_id"] == at]
    assert [row["mechanism"] for row in told.leaders] == list(published["mechanism"])
    assert [row["probability"] for row in told.leaders] == list(published["probability"])
    assert [row["coverage"] for row in told.leaders] == list(published["coverage"])
    first = published.iloc[0]
    assert (told.leaders[0]["level"], told.basis) == (first["level"], first["basis"])
    words = dict(zip(evidence.table.findings, evidence.words, strict=True))
    assert first["next_check"].startswith(words[told.next_findings[0]])
    assert told.n_checked == len(CASES[at][0])


def test_a_crack_and_a_shaking_machine_alone_only_make_vibration_suspected():
    told = judge_of([]).judge({"crk_circ": "present", "shake_seen": "present",
                               "vib_high": "present", "place_repeat": "present"})
    assert told.leaders[0]["mechanism"] == "vib_fatigue"
    assert told.leaders[0]["level"] == "suspected"
    assert "not looked for" in told.leaders[0]["open_points"]


def test_what_is_not_checked_moves_nothing():
    judge = judge_of([])
    some = judge.judge({"dent": "present"})
    same = judge.judge({"dent": "present", "kink": "not checked", "no such finding": "present"})
    assert some.leaders == same.leaders
    assert "dent" not in same.next_findings
