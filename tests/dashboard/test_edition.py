"""The pages read one edition, and can do nothing else with the database."""

import shutil
import threading
import time

import duckdb
import flask
import pytest

from dashboard.queries import edition
from tests.dashboard.edition_maker import make_edition


def app_on(store):
    app = flask.Flask("test")
    edition.install(app, store)
    return app


@pytest.mark.parametrize("statement", [
    "create table mine (n integer)",
    "delete from lives",
    "attach ':memory:' as other",
    "copy lives to 'lives.csv'",
    "select * from read_text('/etc/hostname')",
    "from 'pyproject.toml'",
    "set enable_external_access = true",
    "set threads = 4",
    "install httpfs",
])
def test_the_database_refuses_all_but_reading_its_tables(stores, statement):
    with app_on(stores["full"]).app_context(), pytest.raises(duckdb.Error):
        edition.ask(statement)


def test_python_variables_are_out_of_reach(stores):
    import pandas as pd

    secret = pd.DataFrame({"n": [1]})
    with app_on(stores["full"]).app_context(), pytest.raises(duckdb.Error):
        edition.ask("select * from secret")
    assert len(secret) == 1


def test_a_new_edition_is_seen_at_the_next_request(tmp_path):
    make_edition(tmp_path, "empty", number=1)
    app = app_on(tmp_path)
    with app.app_context():
        assert edition.info()["edition"] == 1
        make_edition(tmp_path, "empty", number=2)
        assert edition.info()["edition"] == 1  # one request sees one edition
    with app.app_context():
        assert edition.info()["edition"] == 2


@pytest.mark.parametrize("pointer", [None, "", "nonsense", "edition-000009.duckdb",
                                     "../../secret/edition-000001.duckdb"])
def test_a_store_without_an_edition_says_what_to_do(tmp_path, pointer):
    if pointer is not None:
        (tmp_path / "current").write_text(pointer, encoding="ascii")
    with app_on(tmp_path).app_context(), pytest.raises(edition.EditionError, match="[Ll]oad"):
        edition.info()


def test_a_foreign_file_is_refused_without_its_path(tmp_path):
    (tmp_path / "editions").mkdir()
    (tmp_path / "editions" / "edition-000001.duckdb").write_bytes(b"not a database" * 100)
    (tmp_path / "current").write_text("edition-000001.duckdb", encoding="ascii")
    with app_on(tmp_path).app_context(), pytest.raises(edition.EditionError) as caught:
        edition.info()
    assert str(tmp_path) not in str(caught.value)


def test_many_threads_read_at_once(stores):
    app, faults = app_on(stores["full"]), []

    def read():
        try:
            for _ in range(20):
                with app.app_context():
                    assert edition.info()["n_service_points"] == 60
        except Exception as exc:
            faults.append(exc)

    threads = [threading.Thread(target=read) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


@pytest.mark.parametrize("fault", [duckdb.Error("x"), duckdb.IOException("x"),
                                   duckdb.InternalException("x")])
def test_a_fault_of_the_file_says_what_to_do(stores, fault):
    with app_on(stores["full"]).app_context():
        assert edition.explain(fault) == edition.UNREADABLE
        assert edition.explain(ValueError("x")) is None


def test_a_question_starts_no_thread_of_the_database(stores):
    """An edition put aside waits for its threads; one that slept on stopped all readers."""
    with app_on(stores["full"]).app_context():
        found = edition.ask("select name, value from duckdb_settings() where name in "
                            "('threads', 'async_threads') order by name")
    assert [row["value"] for row in found] == ["0", "1"]


def test_readers_go_on_while_editions_change_again_and_again(tmp_path):
    make_edition(tmp_path, "empty", number=1)
    first = tmp_path / "editions" / "edition-000001.duckdb"
    app, over, seen, faults = app_on(tmp_path), threading.Event(), set(), []

    def read():
        while not over.is_set():
            try:
                with app.app_context():
                    edition.ask("select name from duckdb_settings() where name = ?",
                                [str(len(seen))])
                    seen.add(flask.g.edition_opened.name)
            except Exception as exc:
                faults.append(exc)

    readers = [threading.Thread(target=read, daemon=True) for _ in range(8)]
    for reader in readers:
        reader.start()
    for number in range(2, 42):
        new = first.with_name(f"edition-{number:06d}.duckdb")
        shutil.copy(first, new)
        (tmp_path / "current.tmp").write_text(new.name)
        (tmp_path / "current.tmp").replace(tmp_path / "current")
        time.sleep(0.01)
    until = time.monotonic() + 20
    while f"edition-{41:06d}.duckdb" not in seen and time.monotonic() < until:
        time.sleep(0.01)
    over.set()
    for reader in readers:
        reader.join(20)
    assert not [reader for reader in readers if reader.is_alive()]
    assert faults == []
    assert f"edition-{41:06d}.duckdb" in seen
