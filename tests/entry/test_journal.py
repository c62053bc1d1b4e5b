"""The journal of entries: whole, once, in order, through kills and beside other writers."""

import datetime as dt
import json
import os
import random
import resource
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from etl.entry.journal import append
from etl.errors import InputError, StoreError
from etl.load.columns import LOGS
from etl.load.entered import batches, journal_path, read_journal
from tests.entry import appender

ROOT = Path(__file__).resolve().parents[2]
ROW = {"inspected_on": "2026-11-01", "service_point": "P 1", "condition": "good"}
ID = "0123456789abcdef"


def started(store, who, first, count, *more):
    return subprocess.Popen(
        [sys.executable, "-m", "tests.entry.appender", str(store), who, str(first), str(count),
         *more], cwd=ROOT, stdout=subprocess.PIPE, text=True)


def test_an_entry_comes_back_as_it_was_given(tmp_path):
    assert append(tmp_path, "inspections", ID, "Ann", [ROW, ROW | {"note": "seen\ntwice"}],
                  {"screen": "x"})
    (found,) = read_journal(tmp_path, "inspections").entries
    assert (found.entry_id, found.who, found.about) == (ID, "Ann", {"screen": "x"})
    assert [dict(row) for row in found.rows] == [ROW, ROW | {"note": "seen\ntwice"}]
    append(tmp_path, "inspections", ID[::-1], "Ann", [ROW])
    assert [entry.number for entry in read_journal(tmp_path, "inspections").entries] == [1, 3]


def test_the_same_entry_sent_again_counts_once(tmp_path):
    assert append(tmp_path, "inspections", ID, "Ann", [ROW])
    assert not append(tmp_path, "inspections", ID, "Ann", [ROW])
    assert len(read_journal(tmp_path, "inspections").entries) == 1


@pytest.mark.parametrize(("who", "row"), [("Bob", ROW), ("Ann", ROW | {"condition": "worn"})])
def test_another_entry_under_the_same_id_is_refused(tmp_path, who, row):
    append(tmp_path, "inspections", ID, "Ann", [ROW])
    with pytest.raises(InputError, match="stands for another entry"):
        append(tmp_path, "inspections", ID, who, [row])


@pytest.mark.parametrize("bad", ["", "short", "x" * 65, "../../etc/passwd-0000", 'a"b' * 8,
                                 "0123456789abcde\n"])
def test_an_id_of_another_form_is_refused(tmp_path, bad):
    with pytest.raises(InputError, match="its id must be"):
        append(tmp_path, "inspections", bad, "Ann", [ROW])
    assert not read_journal(tmp_path, "inspections").entries


@pytest.mark.parametrize("text", [
    "=1+1", "'; drop table lives; --", "<script>alert(1)</script>", "../../secret", "шланг \u202e",
    'a"b\\c', "line\nbreak\r\n", "\u2028\u2029", "{{ 7 * 7 }}"])
def test_hostile_text_stays_text(tmp_path, text):
    append(tmp_path, "inspections", ID, text, [ROW | {"note": text}])
    content = journal_path(tmp_path, "inspections").read_bytes()
    assert content.count(b"\n") == 1
    assert content.isascii()
    (found,) = read_journal(tmp_path, "inspections").entries
    assert (found.who, found.rows[0]["note"]) == (text, text)


@pytest.mark.parametrize("cut", [1, 30, 120, -2])
def test_a_torn_last_line_is_told_and_what_follows_is_whole(tmp_path, cut):
    append(tmp_path, "inspections", ID, "Ann", [ROW])
    path = journal_path(tmp_path, "inspections")
    line = path.read_bytes()
    path.write_bytes(line + line[:cut])
    torn = read_journal(tmp_path, "inspections")
    assert [entry.entry_id for entry in torn.entries] == [ID]
    assert [item.number for item in torn.torn] == [2]
    append(tmp_path, "inspections", ID[::-1], "Bob", [ROW])
    after = read_journal(tmp_path, "inspections")
    assert [(entry.entry_id, entry.number) for entry in after.entries] == [(ID, 1), (ID[::-1], 3)]
    assert [item.number for item in after.torn] == [2]


def test_a_whole_entry_without_its_line_end_counts_before_and_after(tmp_path):
    append(tmp_path, "inspections", ID, "Ann", [ROW])
    path = journal_path(tmp_path, "inspections")
    path.write_bytes(path.read_bytes()[:-1])
    assert not append(tmp_path, "inspections", ID, "Ann", [ROW])
    append(tmp_path, "inspections", ID[::-1], "Bob", [ROW])
    found = read_journal(tmp_path, "inspections")
    assert [entry.entry_id for entry in found.entries] == [ID, ID[::-1]]
    assert not found.torn


@pytest.mark.parametrize("line", [
    b"[]", b"{}", b"null", b'{"entry_id": 1, "who": 2, "at": "then", "rows": [{}]}', b"\xff\x00",
    b'{"entry_id": "a", "who": "b", "at": "2026-11-01T00:00", "rows": []}',
    b'{"entry_id": "a", "who": "b", "at": "2026-11-01T00:00", "rows": "x"}',
    b'{"entry_id": "a", "who": "b", "at": "2026-W44T08:00", "rows": [{"note": "n"}]}',
    b'{"entry_id": "a", "who": "b", "at": "2026-13-01T08:00", "rows": [{"note": "n"}]}',
    '{"entry_id": "a", "who": "b", "at": "\u0662\u0660\u0662\u0666-11-01T08:00"'.encode(),
    b"[" * 3000])
def test_a_line_that_is_no_entry_is_a_torn_one(tmp_path, line):
    path = journal_path(tmp_path, "inspections")
    path.parent.mkdir()
    path.write_bytes(line + b"\n")
    found = read_journal(tmp_path, "inspections")
    assert (len(found.entries), len(found.torn)) == (0, 1)
    (batch,) = batches(LOGS["inspections"], found)
    assert dt.date.fromisoformat(batch.day)


@pytest.mark.slow
def test_kill_9_while_appending_loses_nothing_that_was_confirmed(tmp_path):
    rng = random.Random(5)
    confirmed, n_torn = [], 0
    for turn in range(12):
        process = started(tmp_path, "ann", turn * 10_000, 10_000, "slow")
        said = [process.stdout.readline()]
        time.sleep(rng.uniform(0.0, 0.05))
        process.send_signal(signal.SIGKILL)
        said += process.communicate()[0].splitlines(keepends=True)
        # A line of its output that the kill cut short confirms nothing.
        confirmed += [line.strip() for line in said if line.endswith("\n")]
        found = read_journal(tmp_path, "inspections")
        ids = [entry.entry_id for entry in found.entries]
        assert len(ids) == len(set(ids))
        assert set(confirmed) <= set(ids)
        # At most the entry that was on its way when the kill came is there without a word.
        assert len(ids) - len(confirmed) <= turn + 1
        assert len(found.torn) <= turn + 1
        n_torn = len(found.torn)
    assert n_torn > 0, "no kill fell inside a line: the loop tests nothing"
    assert append(tmp_path, "inspections", ID, "Ann", [ROW])
    assert len(read_journal(tmp_path, "inspections").torn) == n_torn


@pytest.mark.slow
def test_writers_beside_each_other_keep_every_entry_whole(tmp_path):
    each = 60
    processes = [started(tmp_path, who, 0, each) for who in ("ann", "bob", "cat")]
    threads = [threading.Thread(target=append, args=(
        tmp_path, "inspections", f"dan-{number:016d}", "dan", [ROW])) for number in range(30)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for process in processes:
        process.communicate()
        assert process.returncode == 0
    found = read_journal(tmp_path, "inspections")
    assert not found.torn
    assert not found.repeated
    assert len({entry.entry_id for entry in found.entries}) == 3 * each + 30
    for who in ("ann", "bob", "cat"):
        ids = [entry.entry_id for entry in found.entries if entry.who == who]
        assert ids == sorted(ids)


def test_the_same_entry_from_two_places_at_once_counts_once(tmp_path):
    kept = []
    threads = [threading.Thread(target=lambda: kept.append(
        append(tmp_path, "inspections", ID, "Ann", [ROW]))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(kept) == [False] * 7 + [True]
    assert len(read_journal(tmp_path, "inspections").entries) == 1


def test_a_full_disk_leaves_the_journal_as_it_was(tmp_path):
    append(tmp_path, "inspections", ID, "Ann", [ROW])
    path = journal_path(tmp_path, "inspections")
    before = path.read_bytes()
    child = os.fork()
    if child == 0:
        status = 9
        try:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 50, -1))
            append(tmp_path, "inspections", ID[::-1], "Bob", [ROW])
        except StoreError as exc:
            status = 0 if "could not be kept" in str(exc) and str(tmp_path) not in str(exc) else 3
        finally:
            os._exit(status)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert path.read_bytes() == before
    assert append(tmp_path, "inspections", ID[::-1], "Bob", [ROW])


def test_the_slow_writer_of_the_kills_writes_what_the_real_one_writes(tmp_path, monkeypatch):
    append(tmp_path / "a", "inspections", ID, "Ann", [ROW])
    monkeypatch.setattr("etl.entry.journal._write", appender.slow_write)
    append(tmp_path / "b", "inspections", ID, "Ann", [ROW])
    lines = [json.loads(journal_path(tmp_path / name, "inspections").read_text())
             for name in "ab"]
    assert lines[0] | {"at": ""} == lines[1] | {"at": ""}
