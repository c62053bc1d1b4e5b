"""Work done in a second process: same results, errors handed on, a lost process made good."""

import multiprocessing
import os
import signal
import time

import duckdb
import numpy as np
import pytest

from etl.build.aside import Aside, SideProcess, working_aside
from etl.build.free_survival import free_spans
from etl.build.standalone import Rows
from etl.errors import FitError


def own_process():
    return os.getpid()


def slowly(number):
    time.sleep(0.1)
    return number, os.getpid()


def wait_for_the_process(side):
    """Return once the first work asked for is done there."""
    while not side._waiting[0][1].future.done():
        time.sleep(0.01)


def fail(words):
    raise FitError(words)


def end_itself(at_home):
    """End the process without a word, unless it is the one that asked."""
    if os.getpid() != at_home:
        os.kill(os.getpid(), signal.SIGKILL)
    return "done at home"


@pytest.fixture
def side():
    with working_aside(is_large=True) as aside:
        yield aside


def test_a_small_fleet_stays_in_one_process():
    found = []
    with working_aside(is_large=False) as aside:
        aside.run(found.append, own_process)
        assert found == [os.getpid()]  # at once
        aside.finish()
    assert type(aside) is Aside


def test_results_come_back_in_order_from_one_other_process(side):
    found = []
    side.run(found.append, own_process)
    for number in (3, 1, 2):
        side.run(found.append, pow, number, 2)
    wait_for_the_process(side)
    assert found == []  # nothing is handed on before its time
    side.finish()
    assert found[0] != os.getpid()
    assert found[1:] == [9, 1, 4]


def test_work_that_is_needed_now_is_shared_and_comes_back_in_order(side):
    later = []
    side.run(later.append, own_process)
    wait_for_the_process(side)
    side.run(later.append, pow, 2, 5)  # nothing waits for it yet
    done = list(side.shared(slowly, [(number,) for number in range(8)]))
    assert [number for number, _ in done] == list(range(8))
    doers = [doer for _, doer in done]
    assert doers[0] == os.getpid()
    assert doers[-1] == side._process.pid
    assert doers == sorted(doers, key=lambda doer: doer != os.getpid())  # ours first, then theirs
    assert later == []
    side.finish()
    assert later[1] == 32


def test_shared_work_of_a_process_that_was_ended_is_done_here(side):
    assert list(side.shared(end_itself, [(os.getpid(),)] * 3)) == ["done at home"] * 3


def test_shared_work_hands_its_errors_on(side):
    with pytest.raises(FitError, match="ages contradict each other"):
        list(side.shared(fail, [("ages contradict each other",)] * 2))


def test_what_has_not_begun_when_all_is_awaited_is_done_here(side):
    found = []
    for _ in range(4):
        side.run(found.append, slowly, 1)
    side.finish()
    assert os.getpid() in {doer for _, doer in found}


def test_frames_are_the_same_to_the_last_digit(side):
    rng = np.random.default_rng(7)
    low = rng.integers(100, 900, 60) * 1.0
    rows = Rows(np.zeros(60, np.int64), np.zeros(60), low, low + 90.0, np.ones(60), 1)
    found = []
    side.run(found.append, free_spans, rows, np.ones(1, bool))
    side.finish()
    there, here = found[0], free_spans(rows, np.ones(1, bool))
    assert there.equals(here)
    assert there["failed_share"].sum() == pytest.approx(1.0)


def test_an_error_comes_back_as_it_was_raised(side):
    side.run(print, fail, "ages contradict each other")
    with pytest.raises(FitError, match="ages contradict each other"):
        side.finish()


def test_work_of_a_process_that_was_ended_is_done_here(side):
    found = []
    side.run(found.append, end_itself, os.getpid())
    side.run(found.append, pow, 2, 3)
    side.finish()
    assert found == ["done at home", 8]


def broken_build():
    with working_aside(is_large=True) as aside:
        assert isinstance(aside, SideProcess)
        aside.run(print, time.sleep, 600)
        duckdb.connect().execute("select broken")


def test_nothing_is_left_running_when_the_build_fails():
    with pytest.raises(duckdb.Error):
        broken_build()
    assert multiprocessing.active_children() == []
