"""The same logs give the same tables: again, in another order, with other times, after a kill."""

import os
import random
import signal
from pathlib import Path

import duckdb
import pytest

from etl import run
from etl.build.published import PUBLISHED
from etl.load.publish import current_edition
from tests.faults.small import FIRST, SECOND, new_store, tables, write_logs

EVERY = {**FIRST, **SECOND}


def as_bytes(store: Path, folder: Path) -> dict[str, bytes]:
    """Return every published table as the bytes of its export."""
    with duckdb.connect(str(current_edition(store))) as con:
        con.execute("update edition set edition = 0")
    found = {}
    for table in PUBLISHED:
        run.export(store, table, folder / "t.csv")
        found[table] = (folder / "t.csv").read_bytes()
    return found


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    folder = tmp_path_factory.mktemp("once")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", EVERY), store)
    return store


@pytest.fixture(scope="module")
def once_bytes(once, tmp_path_factory):
    return as_bytes(once, tmp_path_factory.mktemp("exports"))


def test_again_elsewhere_the_same_bytes(once_bytes, tmp_path):
    store = new_store(tmp_path / "another name")
    logs = write_logs(tmp_path / "logs", EVERY)
    for number, path in enumerate(sorted(logs.iterdir(), reverse=True)):
        os.utime(path, (1e9 + number * 1e6, 1e9 + number * 1e6))
    run.load(logs, store)
    first = as_bytes(store, tmp_path)
    assert [name for name in first if first[name] != once_bytes[name]] == []
    assert run.load(logs, store).files_already_loaded == len(EVERY)
    assert as_bytes(store, tmp_path) == once_bytes


def test_after_a_kill_the_same_bytes(ordered, once_bytes, tmp_path):
    store, logs = new_store(tmp_path / "store"), write_logs(tmp_path / "logs", EVERY)
    assert ordered(store, logs, die_at="making 1")["signal"] == signal.SIGKILL
    assert ordered(store, logs)["status"] == 0
    assert as_bytes(store, tmp_path) == once_bytes


def by_rows(found):
    """Return tables without what names the order of loading."""
    loads = sorted(row[1:] for row in found["loads"])
    return {**found, "loads": repr(loads)}


@pytest.mark.parametrize("seed", [1])
def test_files_loaded_one_by_one_in_another_order_give_the_same_rows(once, tmp_path, seed):
    store, logs = new_store(tmp_path / "store"), write_logs(tmp_path / "logs", EVERY)
    names = sorted(EVERY)
    random.Random(seed).shuffle(names)
    needed = ("service_points.csv", "installations.csv")  # without them there is nothing to build
    (tmp_path / "head").mkdir()
    for name in needed:
        (logs / name).rename(tmp_path / "head" / name)
    run.load(tmp_path / "head", store)
    for name in names:
        if name not in needed:
            run.load(logs / name, store)
    mine, theirs = by_rows(tables(store)), by_rows(tables(once))
    assert [name for name in mine if repr(mine[name]) != repr(theirs[name])] == []


def test_a_data_date_in_the_past_gives_what_was_known_then(tmp_path, first_store):
    """All logs, built for the data date of the first batch, beside the first batch alone."""
    store = new_store(tmp_path / "store")
    run.load(write_logs(tmp_path / "logs", EVERY), store, as_of="2021-08-01")
    mine, theirs = tables(store), tables(first_store)
    then = "select * exclude (life_id, installation_file, installation_row) from lives where " \
        "installed_on < date '2021-05-05' order by service_point, installed_on"
    rows = []
    for one in (store, first_store):
        with duckdb.connect(str(current_edition(one)), read_only=True) as con:
            rows.append(con.execute(then).fetchall())
    assert rows[0] == rows[1]
    assert mine["edition"][0][0] == theirs["edition"][0][0]
    assert not [row for row in mine["lives"] if "2021, 9, 9" in repr(row)]


def test_a_data_date_again_gives_the_same_bytes(once_bytes, tmp_path):
    store = new_store(tmp_path / "store")
    run.load(write_logs(tmp_path / "logs", EVERY), store, as_of="2021-06-01")
    run.load(None, store)
    assert as_bytes(store, tmp_path) == once_bytes
