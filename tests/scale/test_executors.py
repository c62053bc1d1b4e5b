"""Real worker processes: the same results, and one sentence when they are lost."""

import contextlib

import pytest

from etl import run
from etl.errors import InputError, StoreError
from etl.scale.executors import Processes
from etl.scale.partitions import read_list
from etl.scale.start import start_fleet
from etl.scale.work import fleet_results
from tests.scale import work
from tests.scale.test_fleet import same


@pytest.fixture(scope="module")
def two():
    with contextlib.closing(Processes(2)) as executor:
        yield executor


def test_two_processes_give_the_results_of_one(two, parts, settings, expected):
    same(fleet_results(read_list(str(parts)), two, settings), expected)


def test_results_come_in_the_order_of_the_tasks(two):
    assert list(two.map(work.dawdle, range(5))) == [0, 1, 2, 3, 4]


def test_an_error_of_a_task_is_the_one_raised(two):
    with pytest.raises(ValueError, match="task 4"):
        list(two.map(work.fail, [4]))


def test_work_of_a_killed_process_is_done_again_and_counted_once(two, tmp_path):
    tasks = [(number, str(tmp_path)) for number in range(6)]
    assert list(two.map(work.die_once, tasks)) == [0, 1, 4, 9, 16, 25]
    assert [path.name for path in tmp_path.iterdir()] == ["3"]


def test_processes_that_always_die_are_given_up():
    with (contextlib.closing(Processes(1)) as one,
          pytest.raises(StoreError, match=r"ended 3 times .* 1 of 1 tasks left")):
        list(one.map(work.die, [0]))


def test_a_process_that_hangs_is_given_up(two):
    with (contextlib.closing(Processes(2, patience_seconds=4.0)) as hurried,
          pytest.raises(StoreError, match="no worker has given a result for 4 seconds, with 1 ")):
        list(hurried.map(work.hang, [0, 1]))


def test_what_was_published_stays_when_a_partition_is_lost(parts, tmp_path, settings):
    store = tmp_path / "store"
    store.mkdir()
    (store / "settings.toml").write_text("n_draws = 10\n")
    told = []
    done = start_fleet(str(parts), store, workers=1, cluster=None, tls=None, say=told.append)
    assert (done.edition, done.n_sites, done.n_partitions) == (1, 2, 4)
    assert "160 service points" in done.summary()
    lists = [path for path in parts.glob("sites/*.json")]
    broken = tmp_path / "parts"
    (broken / "sites").mkdir(parents=True)
    for path in lists:
        (broken / "sites" / path.name).write_text(path.read_text())  # lists without files
    before = (store / "fleet" / "current").read_text()
    with pytest.raises(InputError, match="cannot be read"):
        start_fleet(str(broken), store, workers=1, cluster=None, tls=None, say=told.append)
    assert (store / "fleet" / "current").read_text() == before
    with pytest.raises(InputError, match="this is the store of a fleet.*no places, logs or lives"):
        run.serve(store / "fleet", "127.0.0.1", 0)


def test_workers_and_cluster_exclude_each_other(parts, tmp_path):
    with pytest.raises(InputError, match="exclude each other"):
        start_fleet(str(parts), tmp_path, workers=2, cluster="tcp://127.0.0.1:1", tls=None,
                    say=print)
