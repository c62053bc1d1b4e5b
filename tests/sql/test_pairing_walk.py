"""The matching of removals to installations equals a slow walk, one place and event at a time."""

from __future__ import annotations

import random

import pytest

from etl.load.warehouse import connect, run_sql
from tests.sql.slow_walk import Event, Outcome, match
from tests.sql.tiny import rows

STEPS = ("20_steps", "25_seen_again", "30_irregular_points", "35_irregular_events",
         "40_seen_too_early", "50_tag_pairs", "60_walk_parts", "65_walk", "70_pairs", "75_unpaired")
CASES = [
    pytest.param(7, 6, (None, "A", "B"), id="some tags"),
    pytest.param(4, 9, (None, "A"), id="crowded days"),
    pytest.param(5, 8, ("A", "B", "C", None), id="many tags"),
    pytest.param(12, 12, (None, "A", "B", "C"), id="long histories"),
    pytest.param(3, 4, (None,), id="no tags"),
]


def random_places(n_places: int, n_days: int, most_events: int,
                  tags: tuple[str | None, ...]) -> dict[int, list[Event]]:
    """Return random events of each place: hardly any history makes sense."""
    draw = random.Random(n_days * 100 + most_events)
    places: dict[int, list[Event]] = {}
    number = 0
    for place in range(n_places):
        places[place] = []
        for _ in range(draw.randint(1, most_events)):
            number += 1
            places[place].append(
                Event(draw.random() < 0.5, draw.randrange(n_days), draw.choice(tags), number))
    return places


def matched_by_sql(places: dict[int, list[Event]], *, walks_all: bool, threads: int) -> Outcome:
    """Return what the SQL makes of the same events."""
    con = connect(threads=threads)
    con.execute("create table clean.events (point_no integer, happened_on date, kind tinyint, "
                "hose_id varchar, tag ubigint, seen_on date, cells_hash ubigint, row_no bigint)")
    events = [(place, event.day, int(event.is_removal), event.tag, event.number)
              for place, listed in places.items() for event in listed]
    random.Random(1).shuffle(events)
    place, day, kind, tag, number = zip(*events, strict=True)
    con.execute(
        "insert into clean.events select p, date '2020-01-01' + d::integer, k, t, "
        "case when t is not null then hash(t) end, null, n, n from ("
        "select unnest($p) as p, unnest($d) as d, unnest($k) as k, unnest($t::varchar[]) as t, "
        "unnest($n) as n)",
        {"p": list(place), "d": list(day), "k": list(kind), "t": list(tag), "n": list(number)})
    for step in STEPS:
        if walks_all and step == "30_irregular_points":
            con.execute("create table clean.irregular_points as "
                        "select distinct point_no from clean.events")
        else:
            run_sql(con, f"clean/{step}")
    # Numbered as they stand here, each stay must end before the next one at its place begins.
    assert rows(con, "select * from (select *, lag(coalesce(removed_on, replaced_on, '9999-12-31'))"
                     " over (partition by point_no order by stay_no) as before from clean.pairs) "
                     "where installed_on < before") == []
    pairs = rows(con, "select installation_no, removal_no, replaced_on - date '2020-01-01' "
                      "from clean.pairs")
    return Outcome(
        {installed: removed for installed, removed, _ in pairs if removed is not None},
        {installed: replaced for installed, _, replaced in pairs if replaced is not None},
        dict(rows(con, "select removal_no, cause from clean.unpaired")))


@pytest.mark.parametrize(("n_days", "most_events", "tags"), CASES)
@pytest.mark.parametrize(("walks_all", "threads"), [(False, 1), (False, 4), (True, 2)])
def test_pairs_equal_the_slow_walk(n_days, most_events, tags, walks_all, threads):
    places = random_places(1000, n_days, most_events, tags)
    expected = Outcome()
    for events in places.values():
        found = match(events)
        expected.removals |= found.removals
        expected.replaced |= found.replaced
        expected.unpaired |= found.unpaired
    assert matched_by_sql(places, walks_all=walks_all, threads=threads) == expected
