"""Each check of trials passes on the demo and fires on a bad row."""

import pytest

from tests.build.spoiled import copies, faulty

TABLES = ("trial_candidates", "trial_sizes", "trial_states", "trial_looks", "trial_stays",
          "trial_log_rows", "trials", "due")


@pytest.fixture
def con(edition_file):
    with copies(edition_file, TABLES) as con:
        yield con


@pytest.mark.parametrize(("check", "statement"), [
    ("trials_numbers", "update results.trial_candidates set right_choice_probability = 1.2 "
     "where n_pairs is not null"),
    ("trials_numbers", "update results.trial_candidates set rule = null where n_pairs is not null"),
    ("trials_numbers", "update results.trial_candidates set life_ratio = 40"),
    ("trials_numbers", "update results.trial_sizes set n_pairs = 0 where rowid = 0"),
    ("trials_numbers", "update results.trial_states set claimed_on = started_on, n_pairs = 5"),
    ("trials_numbers", "update results.trial_states set error_spent = 0.06 where is_registered"),
    ("trials_numbers", "update results.trial_states set words = null where rowid = 0"),
    ("trials_numbers", "update results.trial_looks set life_ratio = 50 where rowid = 0"),
    ("trials_numbers", "update results.trial_stays set ended_on = '1999-01-01' where rowid = 0"),
    ("trials_places", "delete from results.trial_log_rows where rowid = 0"),
    ("trials_places", "update results.trial_log_rows set arm = 'stiff'"),
    ("trials_places", "update results.trial_log_rows set service_point = (select min("
     "service_point) from results.trials where state = 'running') where rowid = 0"),
    ("trials_places", "update results.due set service_point = (select min(service_point) from "
     "results.trials where state = 'running'), method = 'preventive age' where rowid = 0"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, statement):
    assert faulty(con, check) == []
    con.execute(statement)
    assert len(faulty(con, check)) >= 1
