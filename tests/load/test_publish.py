"""Editions: written aside, switched by one pointer, untouched by anything that dies."""

import os
import signal
import subprocess
import sys
import textwrap
import time

import duckdb
import pytest

from etl.errors import StoreError
from etl.load import publish
from etl.load.publish import current_edition, current_number, editions, store_lock

TABLES = {"ranking": "service_point", "edition": "edition"}


def work(value: int) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute("create schema results")
    con.execute(
        "create table results.ranking as select 'p' || i as service_point from range(50) t(i)")
    con.execute("create table results.edition as select ?::integer as edition", [value])
    return con


def published(store) -> int:
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        return con.execute("select edition from edition").fetchone()[0]


def test_publish_switches_the_pointer_and_keeps_the_last_editions(tmp_path):
    for value in range(1, 6):
        with store_lock(tmp_path):
            assert publish.publish(work(value), tmp_path, TABLES, kept=3) == value
        assert published(tmp_path) == value
    assert sorted(editions(tmp_path)) == [3, 4, 5]


def test_a_reader_keeps_its_edition_while_a_new_one_appears(tmp_path):
    publish.publish(work(1), tmp_path, TABLES, kept=1)
    with duckdb.connect(str(current_edition(tmp_path)), read_only=True) as reader:
        publish.publish(work(2), tmp_path, TABLES, kept=1)
        assert reader.execute("select edition from edition").fetchone() == (1,)
    assert published(tmp_path) == 2


def test_an_empty_store_says_what_to_do(tmp_path):
    with pytest.raises(StoreError, match="no edition yet. Load logs"):
        current_edition(tmp_path)


def test_a_missing_edition_file_is_named(tmp_path):
    publish.publish(work(1), tmp_path, TABLES, kept=1)
    current_edition(tmp_path).unlink()
    with pytest.raises(StoreError, match="edition 1 is missing"):
        current_edition(tmp_path)


def test_a_second_load_is_refused_and_told_who_holds_the_lock(tmp_path):
    held = f"another load is running \\(process {os.getpid()}\\)"
    with store_lock(tmp_path), pytest.raises(StoreError, match=held), store_lock(tmp_path):
        pass
    with store_lock(tmp_path):
        pass


def test_leftovers_of_a_killed_build_are_removed(tmp_path):
    publish.publish(work(1), tmp_path, TABLES, kept=3)
    (tmp_path / "track").mkdir()
    leftovers = [tmp_path / "work.duckdb", tmp_path / "work.duckdb.wal", tmp_path / "current.tmp",
                 tmp_path / "track" / "2021-07-31-counts.tmp",
                 tmp_path / "editions" / "edition-000002.tmp",
                 tmp_path / "editions" / "edition-000002.duckdb"]
    for path in leftovers:
        path.write_bytes(b"half")
    with store_lock(tmp_path):
        assert not [path.name for path in leftovers if path.exists()]
    assert published(tmp_path) == 1


@pytest.mark.parametrize("folder", ["entries", "entries/photographs", "incoming"])
def test_what_a_dead_server_began_is_removed_and_what_a_living_one_begins_is_not(tmp_path, folder):
    (tmp_path / folder).mkdir(parents=True)
    old, new = (tmp_path / folder / f"{name}.tmp" for name in ("old", "new"))
    for path in (old, new):
        path.write_bytes(b"half")
    os.utime(old, (1e9, 1e9))
    with store_lock(tmp_path):
        assert (old.exists(), new.exists()) == (False, True)


@pytest.mark.parametrize("step", ["_write", "sync", "_point"])
def test_a_failing_step_leaves_the_published_edition(tmp_path, monkeypatch, step):
    publish.publish(work(1), tmp_path, TABLES, kept=3)

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(publish, step, fail)
    with pytest.raises(StoreError, match="No space left on device"):
        publish.publish(work(2), tmp_path, TABLES, kept=3)
    assert published(tmp_path) == 1
    assert current_number(tmp_path) == 1


def test_a_first_edition_that_cannot_be_pointed_to_does_not_keep_the_disk_full(
        tmp_path, monkeypatch):
    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(publish, "_point", fail)
    with pytest.raises(StoreError, match="Free some space"):
        publish.publish(work(1), tmp_path, TABLES, kept=3)
    assert list((tmp_path / "editions").iterdir()) == []


KILLED = """
    import sys, duckdb
    from pathlib import Path
    from etl.load import publish
    store = Path(sys.argv[1])
    con = duckdb.connect()
    con.execute("create schema results")
    con.execute("create table results.ranking as select 'p' || i as service_point, random() as x "
                "from range(300000) t(i)")
    con.execute("create table results.edition as select 2::integer as edition")
    print("ready", flush=True)
    tables = {"ranking": "service_point", "edition": "edition"}
    with publish.store_lock(store):
        while True:
            publish.publish(con, store, tables, kept=2)
"""


@pytest.mark.slow
def test_kill_at_any_moment_leaves_a_readable_edition(tmp_path):
    publish.publish(work(1), tmp_path, TABLES, kept=2)
    for delay in (0.02, 0.11, 0.23, 0.31, 0.47):
        child = subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(KILLED), str(tmp_path)],
            stdout=subprocess.PIPE, text=True,
        )
        with child:
            assert child.stdout.readline() == "ready\n"
            time.sleep(delay)
            child.send_signal(signal.SIGKILL)
        before = published(tmp_path)
        assert before in (1, 2)
        with store_lock(tmp_path):
            names = {path.name for path in (tmp_path / "editions").iterdir()}
        assert all(name.endswith(".duckdb") for name in names)
