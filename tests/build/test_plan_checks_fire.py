"""Each check of planned work passes on the demo and fires on a bad row."""

import pytest

from tests.build.spoiled import copies, faulty

TABLES = ("replacement_ages", "due", "service_points")


@pytest.fixture
def con(edition_file):
    with copies(edition_file, TABLES) as con:
        yield con


@pytest.mark.parametrize(("check", "statement"), [
    ("replacement_ages", "delete from results.replacement_ages where rowid = 0"),
    ("replacement_ages", "update results.replacement_ages set reason = null where rowid = 0"),
    ("replacement_ages", "update results.replacement_ages set preventive_age_days = 5.0 "
     "where verdict <> 'pays'"),
    ("replacement_ages", "update results.replacement_ages set flat_to_days = 1.0 "
     "where verdict = 'pays'"),
    ("replacement_ages", "update results.replacement_ages set saving_probability = 1.2 "
     "where verdict = 'pays'"),
    ("replacement_ages", "update results.replacement_ages set required_interval_days = 10 "
     "where verdict = 'pays'"),
    ("replacement_ages", "update results.replacement_ages set planned_on = null "
     "where verdict = 'pays'"),
    ("replacement_ages", "update results.replacement_ages set planned_on = '2026-10-31' "
     "where verdict = 'pays'"),
    ("replacement_ages", "update results.replacement_ages set method = 'required interval' "
     "where verdict = 'pays'"),
    ("due_complete", "delete from results.due where rowid = 0"),
    ("due_complete", "update results.replacement_ages set planned_on = '2031-01-01'"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, statement):
    assert faulty(con, check) == []
    con.execute(statement)
    assert len(faulty(con, check)) >= 1
