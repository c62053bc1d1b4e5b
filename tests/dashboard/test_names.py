"""Names stand in the order people count, P-2 before P-10, and are found at once."""

import duckdb
import pytest

from dashboard import words
from dashboard.queries import edition, search
from tests.dashboard.edition_maker import MADE_BY_SQL, make_edition, statement
from tests.dashboard.page_reader import Reader

COUNTED = ["P 00", "p 0", "P-2", "p-2", "P-02 in", "P-10", "P-10/2", "P-10/11", "PA-1"]
"""By hand: numbers by size, whatever the case; equal ones as texts."""


@pytest.fixture(scope="module")
def reader(tmp_path_factory):
    """Pages of the invented fleet with these names at its first places, in another order."""
    store = tmp_path_factory.mktemp("counted")
    path = make_edition(store)
    with duckdb.connect(str(path)) as con:
        old = [row[0] for row in con.execute(
            "select service_point from place_list order by place_no").fetchall()]
        for before, name in zip(old, sorted(COUNTED, key=len, reverse=True), strict=False):
            for table in ("service_points", "ranking", "lives"):
                con.execute(f"update {table} set service_point = ? where service_point = ?",
                            [name, before])
        for name, line in (("P-2", "Loop 10"), ("p-2", "Loop 9")):
            con.execute("update service_points set line = ? where service_point = ?", [line, name])
        for name in MADE_BY_SQL:
            con.execute(statement(name))
    return Reader(store)


def asked(reader, direction, start=0):
    request = {"startRow": start, "endRow": start + 60, "filterModel": {},
               "sortModel": [{"colId": "service_point", "sort": direction}]}
    answer = reader.call("..places-grid.getRowsResponse", {"places-grid.getRowsRequest": request})
    return [row["service_point"]["text"]
            for row in answer["places-grid"]["getRowsResponse"]["rowData"]]


def test_places_are_sorted_as_people_count(reader):
    rising = asked(reader, "asc")
    assert [name for name in rising if name in COUNTED] == COUNTED
    assert asked(reader, "desc") == rising[::-1]
    assert rising == sorted(rising, key=lambda name: (words.by_number(name), name))


def test_search_finds_first_what_begins_with_the_text(reader):
    with reader.app.server.app_context():
        found = search.found("p", most=60)
        every = [row["name"] for row in edition.ask("select name from names where kind = 'place'"
                                                    " order by name_no")]
        places = [row["name"] for row in found if row["kind"] == "place"]
        wanted = [name for name in every if name.lower().startswith("p")]
        assert places == wanted + [
            name for name in every if "p" in name.lower() and name not in wanted]
        few = search.found("P", most=3)
        assert [row["name"] for row in few if row["kind"] == "place"] == places[:3]
        assert search.found("10/1")[0]["name"] == "P-10/11"
        assert [row["name"] for row in search.found("loop")] == ["Loop 9", "Loop 10"]
        assert search.found("no such name") == []
