"""Checks of teardown evidence and screens pass on the demo and fire on a bad row; demo truth."""

import pytest

from tests.build.spoiled import copies, faulty

TABLES = ("teardown_evidence", "teardown_findings", "finding_vocabulary", "place_screens", "lives",
          "service_points", "place_duty")


@pytest.fixture
def con(edition_file):
    with copies(edition_file, TABLES) as con:
        yield con


@pytest.mark.parametrize(("check", "table", "change", "where"), [
    ("teardown_numbers", "teardown_evidence", "probability = 0.9", "rank = 2"),
    ("teardown_numbers", "teardown_evidence", "probability = 'nan'", "rank = 3"),
    ("teardown_numbers", "teardown_evidence", "level = null", "rank = 1"),
    ("teardown_numbers", "teardown_evidence", "coverage = 1.2", "rank = 1"),
    ("teardown_numbers", "teardown_evidence", "n_present = n_checked + 1", "rank = 1"),
    ("teardown_numbers", "teardown_evidence", "mechanism = 'squirm'",
     "is_counted and mechanism <> 'squirm'"),
    ("teardown_findings", "teardown_findings", "finding = 'no such finding'", "true"),
    ("teardown_findings", "teardown_findings", "hose_id = 'another'", "true"),
    ("place_screens_numbers", "place_screens", "value = 'inf'", "screen = 'flow'"),
    ("place_screens_numbers", "place_screens", "limit_value = 0", "screen = 'bend'"),
    ("place_screens_numbers", "place_screens", "upper = value / 2", "screen = 'frequency'"),
    ("place_screens_numbers", "place_screens", "rank = 0", "rank is not null"),
    ("place_screens_numbers", "place_screens", "service_point = 'nowhere'", "true"),
    ("place_duty_rows", "place_duty", "service_point = 'nowhere'", "true"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, table, change, where):
    assert faulty(con, check) == []
    con.execute(f"update results.{table} set {change} where rowid = "
                f"(select min(rowid) from results.{table} where {where})")
    assert len(faulty(con, check)) >= 1


def test_inferred_mechanisms_of_the_demo_are_marked_and_only_those_of_open_failures(con):
    inferred = con.execute(
        "select count(*), count(*) filter (where kind <> 'suspended') from results.lives "
        "where mechanism_origin = 'inferred from its teardown'").fetchall()[0]
    counted = con.execute(
        "select count(*), count(logged_mechanism) from results.teardown_evidence where is_counted"
    ).fetchall()[0]
    assert inferred[0] == inferred[1] == counted[0] > 0
    assert counted[1] == 0


def test_the_demo_teardowns_agree_with_what_people_concluded(con):
    n, agree = con.execute(
        "select count(*), count(*) filter (where mechanism = logged_mechanism) "
        "from results.teardown_evidence where rank = 1 and logged_mechanism is not null "
        "and probability >= 0.5").fetchall()[0]
    assert n >= 50
    assert agree >= 0.8 * n
