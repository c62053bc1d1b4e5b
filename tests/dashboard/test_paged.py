"""Tables that page on the server: only listed columns, only bound values, no row lost."""

import flask
import pytest

from dashboard.queries import edition
from dashboard.queries.paged import MOST_ROWS, asked_filters, asked_rows, asked_sort
from dashboard.queries.places import PLACES
from tests.dashboard.edition_maker import tables


@pytest.fixture
def context(stores):
    app = flask.Flask("test")
    edition.install(app, stores["full"])
    with app.app_context():
        yield


def names(rows):
    return [row["service_point"] for row in rows]


@pytest.mark.usefixtures("context")
@pytest.mark.parametrize("column", ["expected_cost", "n_failures", "site", "construction"])
@pytest.mark.parametrize("order", ["asc", "desc"])
def test_pages_put_together_are_the_whole_table(column, order):
    sort = [{"colId": column, "sort": order}]
    pieces = [name for start in range(0, 70, 7)
              for name in names(PLACES.page({}, sort, start, start + 7))]
    assert pieces == names(PLACES.page({}, sort, 0, MOST_ROWS))
    assert len(set(pieces)) == len(pieces) == PLACES.count({}) == 60


def by_hand(place, name, value):
    """Say whether a place passes a filter, written a second time and differently."""
    if name == "hazard":
        return value in place["hazards"]
    if name == "text":
        searched = ("service_point", "application_class", "site", "area", "line", "equipment",
                    "medium", "hose_id", "part_number")
        return value.lower() in " ".join(str(place[c]) for c in searched if place[c]).lower()
    return place[name] == value


@pytest.mark.usefixtures("context")
@pytest.mark.parametrize(("name", "value"), [
    ("site", "Estwater"), ("line", "line 3"), ("application_class", "vacuum line"),
    ("construction", "C-304-OP1"), ("hazard", "toxic"), ("text", "hd-1"), ("text", "CAUSTIC"),
])
def test_filters_leave_what_they_say(name, value):
    wanted = sorted(p["service_point"] for p in tables("full")["service_points"]
                    if by_hand(p, name, value))
    assert sorted(names(PLACES.page({name: value}, [], 0, MOST_ROWS))) == wanted
    assert PLACES.count({name: value}) == len(wanted) > 0


@pytest.mark.usefixtures("context")
@pytest.mark.parametrize("text", [
    "'; drop table lives; --", "\" or 1=1 --", "%", "_", "\\", "x' union select 1 --", "\x00"])
def test_a_filter_is_a_value_and_never_sql(text):
    assert PLACES.page({"text": text, "site": text}, [], 0, 10) == []
    assert PLACES.count({}) == 60


@pytest.mark.usefixtures("context")
def test_an_unlisted_column_or_filter_changes_nothing():
    plain = names(PLACES.page({}, [], 0, 20))
    sort = [{"colId": "1; drop table lives", "sort": "asc"}, {"colId": None}, {"sort": "desc"}]
    assert names(PLACES.page({"p.site": "Estwater", "": "x"}, sort, 0, 20)) == plain


@pytest.mark.usefixtures("context")
def test_no_request_gets_more_rows_than_allowed():
    assert len(PLACES.page({}, [], 0, 10**9)) == 60
    assert PLACES.page({}, [], 50, 10) == []
    assert len(PLACES.page({}, [], -5, 3)) == 3


@pytest.mark.parametrize("request_", [
    {}, {"filterModel": "x", "sortModel": "y", "startRow": "a"}, {"filterModel": {"site": 3}},
    {"filterModel": {"site": {"filter": None}}, "sortModel": [1, "a"], "endRow": None},
])
def test_a_malformed_request_asks_for_nothing_special(request_):
    assert asked_filters(request_) == {}
    assert asked_sort(request_) == []
    assert len(asked_rows(request_)) == 2


@pytest.mark.usefixtures("context")
def test_pages_in_the_stored_order_and_the_whole_file_hold_the_same_rows_by_rank():
    pages = [row for start in range(0, 70, 7) for row in PLACES.page({}, [], start, start + 7)]
    ranks = [row["rank"] for row in pages]
    assert ranks == sorted(ranks, key=lambda rank: (rank is None, rank))
    columns, batches = PLACES.stream({})
    at = columns.index("service_point")
    assert [row[at] for batch in batches for row in batch] == names(pages)
    columns, batches = PLACES.stream({"hazard": "toxic"})
    assert [row[at] for batch in batches for row in batch] == [
        row["service_point"] for row in pages if "toxic" in row["hazards"]]


@pytest.mark.usefixtures("context")
@pytest.mark.parametrize("values", [{}, {"site": "Estwater"}])
def test_a_whole_file_is_read_without_sorting_it_first(values):
    """Sorting a million rows takes 600 MB; the order in which they are stored takes none."""
    statement, given = PLACES.select(values)
    (plan,) = edition.cursor().execute("explain " + statement, given).fetchall()
    assert "ORDER" not in plan[1]
    assert "TOP_N" not in plan[1]
