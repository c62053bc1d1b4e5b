"""A question over its bound in time or memory is stopped, said so in words, and hurts nobody."""

import logging
import threading
import time

import flask
import pytest

from dashboard.queries import edition, month, opened
from dashboard.queries.bounds import Watch

ENDLESS = "select count(*) as n from range(1000000) a, range(1000000) b where a.range < b.range + ?"
LARGE = "select count(*) as n from (select range, random() as r from range(100000000) order by r)"


@pytest.fixture
def app(stores):
    made = flask.Flask("test")
    edition.install(made, stores["full"])
    return made


@pytest.fixture
def soon(monkeypatch):
    monkeypatch.setattr(edition, "LONGEST_S", 0.2)
    monkeypatch.setattr(edition, "LONGEST_DOWNLOAD_S", 0.2)


def test_a_question_without_end_is_stopped_and_the_next_one_answered(app, soon):
    with app.app_context():
        with pytest.raises(edition.OverBoundError, match="longer than 0.2 seconds was stopped"):
            edition.ask(ENDLESS, [1])
        assert edition.info()["n_service_points"] == 60


def test_a_download_without_end_is_stopped(app, soon):
    with app.app_context(), pytest.raises(edition.OverBoundError):
        list(edition.stream(ENDLESS, [1])[1])


def test_a_question_that_would_fill_the_memory_is_stopped(app, stores):
    with app.app_context():
        with pytest.raises(edition.OverBoundError, match="needed too much memory was stopped"):
            edition.ask(LARGE)
        assert edition.info()["n_service_points"] == 60
    assert [path.name for path in (stores["full"] / "editions").iterdir()] == [
        "edition-000001.duckdb"]  # nothing was written beside it


def test_a_page_says_so_and_a_file_is_answered_503(full, soon, monkeypatch, caplog):
    monkeypatch.setattr(month, "out_this_month", lambda: edition.ask(ENDLESS, [1]))
    with caplog.at_level(logging.CRITICAL, "braidlife.pages"):
        text = full.text("/")
        answer = full.client.get("/report.html")
    assert "This was stopped. A question that took longer than 0.2 seconds was stopped" in text
    assert answer.status_code == 503
    assert "try again in a minute" in answer.get_data(as_text=True)


def test_one_that_is_stopped_does_not_stop_those_beside_it(app, monkeypatch):
    """Two cursors of one connection: the short bound of one is not the end of the other."""
    monkeypatch.setattr(edition, "LONGEST_S", 0.3)
    ended = []

    def ask():
        with app.app_context():
            try:
                edition.ask(ENDLESS, [threading.get_ident()])
            except edition.OverBoundError:
                ended.append("stopped")

    with app.app_context():
        thread = threading.Thread(target=ask)
        thread.start()
        until = time.monotonic() + 1
        while time.monotonic() < until:
            own = edition.cursor()
            assert own.execute("select count(*) from lives where ? > 0", [time.time()]).fetchall()
        thread.join()
    assert ended == ["stopped"]


def test_nothing_is_stopped_after_its_end():
    """The bound of an answered question passes while the same cursor answers the next one."""
    watch, stopped = Watch(), []
    for _ in range(50):
        with watch.limit(0.001, lambda: stopped.append("late")):
            pass
    time.sleep(0.05)
    assert stopped == []
    with watch.limit(0.01, lambda: stopped.append("over")), watch.limit(
            5, lambda: stopped.append("never")):
        time.sleep(0.2)
    assert stopped == ["over"]


def test_the_shorter_bound_of_a_later_question_counts():
    watch, stopped = Watch(), threading.Event()
    with watch.limit(60, lambda: None), watch.limit(0.01, stopped.set):
        assert stopped.wait(5)


def test_a_request_downloads_of_the_edition_it_began_with(tmp_path):
    from tests.dashboard.edition_maker import make_edition

    app = flask.Flask("test")
    edition.install(app, tmp_path)
    make_edition(tmp_path, "empty", number=1)
    with app.app_context():
        edition.info()
        make_edition(tmp_path, "empty", number=2)
        assert [row for batch in edition.stream("select edition from edition")[1]
                for row in batch] == [(1,)]


def test_another_edition_is_read_within_the_same_bound(stores, monkeypatch):
    monkeypatch.setattr(opened, "LONGEST_S", 0.2)
    path = stores["full"] / "editions" / "edition-000001.duckdb"
    editions = opened.Editions(stores["empty"])
    with pytest.raises(opened.OverBoundError), editions.reading(path) as con:
        con.execute(ENDLESS, [1]).fetchall()
    with pytest.raises(opened.EditionError), editions.reading(path) as con:
        con.execute("select * from none")
