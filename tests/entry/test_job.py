"""The background job: all that was entered in one edition, one job at a time."""

import os
import signal
import subprocess
import sys
import time

import duckdb
import pytest

from etl.entry import job
from etl.entry.take import n_rows_entered, take
from etl.load.publish import current_edition, current_number, store_lock

pytestmark = pytest.mark.slow
PLACES = ("A-1", "A-2")


def inspected(store, number):
    day = f"2021-0{number}-01"
    assert take(store, "inspections", f"{number:016d}", "Ann", [
        {"inspected_on": day, "service_point": "A-1", "condition": "good"}], PLACES).is_kept


def at_work(store):
    return subprocess.Popen([sys.executable, "-m", "etl.entry.job", str(store)])


def until(store, wanted, longest_s=120):
    end = time.monotonic() + longest_s
    while (now := job.progress(store)).state not in wanted:
        assert time.monotonic() < end, now
        time.sleep(0.02)
    return now


def n_published(store):
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        return con.execute("select coalesce(sum(n_clean), 0) from loads "
                           "where source_file = 'inspections.jsonl'").fetchone()[0]


def test_nothing_was_ever_built(store):
    assert job.progress(store).state == "never"


def test_a_second_job_ends_at_once_and_what_comes_meanwhile_is_built_too(store):
    inspected(store, 1)
    first = at_work(store)
    seen = until(store, ("building",))
    assert seen.step
    inspected(store, 2)
    second = at_work(store)
    assert second.wait(timeout=60) == 0
    assert first.poll() is None, "the first one ended before the second: nothing was shown"
    assert current_number(store) >= 1  # readers have an edition all the time
    assert first.wait(timeout=300) == 0
    assert n_published(store) == 2 == n_rows_entered(store, "inspections")
    done = job.progress(store)
    assert (done.state, done.edition) == ("done", current_number(store))


def test_a_job_just_started_is_at_work_for_whoever_looks_at_once(store):
    inspected(store, 1)
    job.start(store)
    assert job.progress(store).state in job.WORKING
    assert until(store, ("done", "failed")).state == "done"
    assert n_published(store) == 1


def test_a_job_that_ends_between_two_looks_has_not_failed(store, monkeypatch):
    (store / "entries").mkdir()
    job._tell(store, job.Progress("building", "lives", 1))

    def ends(_):
        job._tell(store, job.Progress("done", "", 2))
        return False

    monkeypatch.setattr(job, "is_running", ends)
    assert job.progress(store) == job.Progress("done", "", 2)


def test_several_may_look_at_once_and_none_is_taken_for_the_job(store):
    with job._lock(store):
        assert job.is_running(store)
    with (store / "entries" / job.LOCK).open("rb", buffering=0) as handle:
        assert job._take(handle, job.fcntl.LOCK_SH)
        assert not job.is_running(store)


def test_a_start_that_led_to_nothing_says_so(store, monkeypatch):
    monkeypatch.setattr(job.subprocess, "Popen", lambda *_, **__: type(
        "P", (), {"wait": lambda _: 0})())
    (store / "entries").mkdir()
    job.start(store)
    assert job.progress(store).state == "starting"
    monkeypatch.setattr(job, "LONGEST_START_S", 0.0)
    assert job.progress(store).state == "failed"


def test_a_job_waits_for_a_load_that_somebody_else_started(store):
    inspected(store, 1)
    with store_lock(store):
        waiting = at_work(store)
        assert "another load is running" in until(store, ("waiting",)).step
    assert waiting.wait(timeout=300) == 0
    assert n_published(store) == 1


def test_a_killed_job_says_so_and_the_next_one_does_its_work(store):
    inspected(store, 1)
    killed = at_work(store)
    until(store, ("building",))
    os.kill(killed.pid, signal.SIGKILL)
    killed.wait()
    assert current_number(store) == 1
    assert job.progress(store).state == "failed"
    assert "kept" in job.progress(store).step
    job.work(store)
    assert n_published(store) == 1
    assert job.progress(store).state == "done"


def test_a_build_that_cannot_be_made_says_why_and_keeps_what_was_entered(store):
    inspected(store, 1)
    (store / "settings.toml").write_text("n_drows = 3\n")
    job.work(store)
    told = job.progress(store)
    assert told.state == "failed"
    assert "n_drows" in told.step
    assert (current_number(store), n_rows_entered(store, "inspections")) == (1, 1)
