"""A new edition is asked its first questions before a reader asks them."""

from dashboard.queries import edition, month, places, warm
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import Reader


def test_first_questions_are_answered_before_a_reader_asks(tmp_path, monkeypatch):
    make_edition(tmp_path, "full", number=1)
    app = Reader(tmp_path).app.server
    threads = []
    monkeypatch.setattr(warm.threading.Thread, "start", lambda thread: threads.append(thread))
    warm.install(app)
    for thread in threads:
        thread.run()
    with app.app_context():
        edition.cursor()
        monkeypatch.setattr(edition, "as_rows", lambda _: [])  # whoever asks now finds nothing
        assert month.ten_places()
        assert places.PLACES.page({}, [], 0, 25)
        assert places.choices()


def test_an_empty_store_is_no_fault(tmp_path):
    warm.begin(Reader(tmp_path).app.server).join(20)
