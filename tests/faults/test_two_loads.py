"""One load at a time, and pages that read while it runs."""

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

import duckdb
import pytest

from dashboard.app import create_app
from dashboard.queries import edition as asked
from etl import run
from etl.errors import StoreError
from etl.load.publish import current_edition, current_number, store_lock
from tests.faults.small import same_rows

ROOT = Path(__file__).resolve().parents[2]
HOLDER = """
    import sys, time
    from pathlib import Path
    from etl.load.publish import store_lock
    with store_lock(Path(sys.argv[1])):
        print("held", flush=True)
        time.sleep(600)
"""


@pytest.fixture
def holder(store):
    """Process that holds the store as a load would."""
    process = subprocess.Popen([sys.executable, "-c", textwrap.dedent(HOLDER), str(store)],
                               stdout=subprocess.PIPE, text=True, cwd=ROOT)
    with process:
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_the_second_load_is_told_who_holds_the_store_and_what_to_do(holder, store, more,
                                                                    first_store):
    done = subprocess.run([sys.executable, "-m", "etl", "load", str(more), "--store", str(store)],
                          capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 2
    assert done.stderr.strip() == (
        f"braidlife: another load is running (process {holder.pid}). Wait until it has ended.")
    same_rows(store, first_store)


def test_the_lock_of_a_dead_process_is_taken_over(holder, store, more, both_store):
    holder.send_signal(signal.SIGKILL)
    holder.wait()
    assert (store / "lock").read_text() == str(holder.pid)
    run.load(more, store)
    same_rows(store, both_store)


def test_a_note_of_a_process_that_lives_but_holds_nothing_stops_nobody(store, more):
    (store / "lock").write_text(str(os.getpid()))
    assert run.load(more, store).edition == 2


def test_a_lock_with_rubbish_in_it_still_says_that_a_load_is_running(store, more):
    with store_lock(store):
        (store / "lock").write_bytes(b"\xff\xfe")
        with pytest.raises(StoreError, match="another load is running"):
            run.load(more, store)


def test_pages_answer_all_through_a_load(store, more):
    app, faults, seen, over = create_app(store), [], set(), threading.Event()

    def read():
        client = app.server.test_client()
        while not over.is_set():
            answer = client.get("/readyz")
            if answer.status_code == 200:
                seen.add(answer.get_json()["edition"])
            else:
                faults.append(answer.get_data(as_text=True))
            time.sleep(0.01)

    readers = [threading.Thread(target=read) for _ in range(2)]
    for reader in readers:
        reader.start()
    run.load(more, store)
    (store / "settings.toml").write_text("n_draws = 20\neditions_kept = 1\n")
    run.load(None, store)
    over.set()
    for reader in readers:
        reader.join()
    assert faults == []
    assert {1, 2} <= seen <= {1, 2, 3}


def test_another_process_loads_while_this_one_holds_the_edition_open(store, more, both_store):
    """Kind of duckdb/duckdb #17158: one file that is written and read would lock one of the two."""
    name = current_edition(store)
    with duckdb.connect(str(name), read_only=True) as held:
        before = held.execute("from lives order by life_id").fetchall()
        with subprocess.Popen([sys.executable, "-m", "etl", "load", str(more), "--store",
                               str(store)], cwd=ROOT, stdout=subprocess.DEVNULL) as loader:
            while loader.poll() is None:
                with duckdb.connect(str(current_edition(store)), read_only=True) as reader:
                    assert reader.execute("select edition in (1, 2) from edition").fetchall() == [
                        (True,)]
                time.sleep(0.05)
        assert loader.returncode in (0, 1)
        assert held.execute("from lives order by life_id").fetchall() == before
    same_rows(store, both_store)


def test_an_edition_replaced_while_it_is_being_opened_gives_the_new_one(store, monkeypatch):
    (store / "settings.toml").write_text("n_draws = 20\neditions_kept = 1\n")
    editions, opened = asked.Editions(store), asked.Editions._open

    def load_first(self, name):
        if current_number(store) == 1:
            run.load(None, store)
        return opened(self, name)

    monkeypatch.setattr(asked.Editions, "_open", load_first)
    with editions.current().connection.cursor() as cursor:
        assert cursor.execute("select edition from edition").fetchall() == [(2,)]


@pytest.mark.parametrize("kept", [1, 2, 0])
def test_only_the_last_editions_stay_and_never_none(store, kept):
    (store / "settings.toml").write_text(f"n_draws = 20\neditions_kept = {kept}\n")
    run.load(None, store)
    run.load(None, store)
    names = sorted(path.name for path in (store / "editions").iterdir())
    assert names == [f"edition-{3 - back:06d}.duckdb" for back in range(max(kept, 1))][::-1]
