"""An edition remembers its answers: never a wrong one, and never without limit."""

from dashboard.queries import answers as module
from dashboard.queries import edition
from dashboard.queries.answers import Answers


def test_a_remembered_answer_is_the_answer_and_cannot_be_spoilt(full):
    statement = "select service_point, n_lives from service_points where n_lives >= ? order by all"
    with full.app.server.app_context():
        first = edition.ask(statement, [1])
        n_rows = len(first)
        first[0]["n_lives"] = -1
        first.clear()
        again = edition.ask(statement, [1])
        assert len(again) == n_rows > 1
        assert again[0]["n_lives"] >= 1
        assert edition.ask(statement, [10**6]) == []


def test_values_that_are_equal_in_python_but_not_in_the_database_are_apart(full):
    with full.app.server.app_context():
        said = [edition.ask("select typeof(?) as kind", [value])[0]["kind"]
                for value in (1, True, 1.0, "1")]
    assert len(set(said)) == 4


def test_memory_is_bounded_and_the_oldest_goes_first(monkeypatch):
    monkeypatch.setattr(module, "MOST_KEPT_VALUES", 30)
    monkeypatch.setattr(module, "MOST_VALUES", 12)
    answers = Answers()
    rows = [{"a": 1, "b": 2}] * 4
    for name in ("first", "second", "third"):
        answers.keep((name, ""), rows)
    answers.get(("first", ""))
    answers.keep(("fourth", ""), rows)
    assert answers.get(("second", "")) is None
    assert answers.get(("first", "")) == rows
    answers.keep(("long", ""), rows * 4)
    assert answers.get(("long", "")) is None
    assert answers.get(("fourth", "")) == rows


def test_answers_asked_again_and_again_do_not_use_up_the_room(monkeypatch):
    monkeypatch.setattr(module, "MOST_KEPT_VALUES", 30)
    answers = Answers()
    rows = [{"a": 1, "b": 2}] * 4
    answers.keep(("other", ""), rows)
    for _ in range(10):
        answers.keep(("same", ""), rows)
    assert answers.get(("other", "")) == rows
