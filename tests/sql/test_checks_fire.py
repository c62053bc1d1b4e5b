"""Each check of the clean and lives layers passes on good logs and fires on one bad row."""

from __future__ import annotations

import pytest

from tests.sql.tiny import build, faulty

LOGS = {
    "service_points": "service_point,application_class\nP1,steam\nP2,steam",
    "installations": "installed_on,service_point,hose_id\n2020-01-01,P1,A\n2020-06-01,P1,B\n"
                     "2020-01-01,P2,C\n2020-01-01,P9,D",
    "replacements": "removed_on,service_point,hose_id,reason\n2020-05-01,P1,A,failed\n"
                    "2020-09-01,P1,B,found_failed",
}
BREAKS = [
    pytest.param("clean_balance", "delete from clean.installations_filled where hose_id = 'A'", 1,
                 id="row lost"),
    pytest.param("clean_balance", "insert into clean.fates select log, -1, load_id, entry_no, "
                 "source_row, 'repeat' from clean.refused", 1, id="row counted twice"),
    pytest.param("clean_refused_reason", "update clean.refused set remedy = null", 1,
                 id="refused without remedy"),
    pytest.param("clean_refused_reason", "update clean.refused set source_file = 'a/b.csv'", 1,
                 id="folder shown"),
    pytest.param("clean_service_points_unique",
                 "insert into clean.service_points_filled from clean.service_points_filled "
                 "limit 1", 1,
                 id="place twice"),
    pytest.param("lives_stays_numbered",
                 "update lives.stay_rows set stay_id = 9 where stay_id = 3", 1,
                 id="number left out"),
    pytest.param("lives_stays_numbered",
                 "update lives.stay_rows set installed_on = '2019-01-01' where stay_id = 2", 1,
                 id="days out of order"),
    pytest.param("lives_stays_apart",
                 "update lives.stay_rows set removed_on = '2020-07-01' where stay_id = 1", 1,
                 id="two hoses at once"),
    pytest.param("lives_stays_apart",
                 "update lives.stay_rows set removed_on = null where stay_id = 1", 1,
                 id="two hoses in service"),
    pytest.param("lives_rows_used_once", "delete from lives.stay_rows where stay_id = 1", 2,
                 id="stay lost"),
    pytest.param("lives_rows_used_once",
                 "update lives.stay_rows set removal_no = (select removal_no from lives.stays "
                 "where stay_id = 2) where stay_id = 1", 2, id="one removal for two stays"),
    pytest.param("lives_ages", "update lives.lives set entry_age_days = 9999 where life_id = 1", 1,
                 id="failure that was not watched"),
    pytest.param("lives_ages", "update lives.lives set age_low_days = age_high_days "
                 "where kind = 'interval'", 1, id="interval without width"),
    pytest.param("lives_ages", "update lives.lives set age_high_days = 1 where kind = 'suspended'",
                 1, id="suspension with an end"),
    pytest.param("lives_ages", "update lives.lives set entry_age_days = null where life_id = 2", 1,
                 id="no entry age"),
    pytest.param("lives_complete", "delete from lives.lives where life_id = 1", 1, id="life lost"),
    pytest.param("lives_complete", "update lives.lives set mechanism = null where life_id = 1", 1,
                 id="failure without mechanism"),
    pytest.param("lives_complete", "update lives.lives set exclusion = 'x' where life_id = 1", 1,
                 id="excluded and fitted"),
]


@pytest.mark.parametrize(("check", "spoil", "n_faulty"), BREAKS)
def test_check_fires_on_a_bad_row_and_only_then(check, spoil, n_faulty):
    con = build(**LOGS)
    assert faulty(con, check) == []
    # A view takes no changes.
    con.execute("create table lives.copy as from lives.lives")
    con.execute("drop view lives.lives")
    con.execute("alter table lives.copy rename to lives")
    con.execute(spoil)
    assert len(faulty(con, check)) == n_faulty
