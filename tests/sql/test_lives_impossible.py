"""Lives of no length, of negative length or never observed reach no fit, and each is accounted for.

Kind of CamDavidsonPilon/lifelines #1400 and #1693 (zero and negative lives), #1166 (entry equals
exit), #159 (NaN reaches the fit), #290 (a stratum left without rows) and CoronaNetDataScience/
corona_tscs #14 (an end before its start).
"""

from __future__ import annotations

import math

import pytest

from tests.sql.tiny import build, refused, rows

PLACES = "service_point,application_class,records_from\nP1,steam,\nP2,water,\nP3,steam,2020-01-01"
IN = "installed_on,service_point,hose_id,age_at_installation\n"
OUT = "removed_on,service_point,reason,hose_id\n"


def lives(con, where="true"):
    return rows(con, "select entry_age_days, age_low_days, age_high_days, kind, is_fitted, "
                     f"exclusion from lives.lives where {where} order by life_id")


def test_a_hose_removed_before_it_went_in_is_refused_with_both_days():
    con = build(service_points=PLACES, installations=IN + "2020-05-01,P1,H,\n",
                replacements=OUT + "2019-11-12,P1,failed,H\n")
    assert refused(con) == [
        ("replacements", 2, "removed_on", "2019-11-12", "the hose went in only later")]
    assert rows(con, "select remedy from clean.refused") == [(
        "Hose H went in on 2020-05-01. Correct one of the two dates,"
        " or add the earlier installation of this hose.",)]


def test_a_failure_on_the_day_it_went_in_lies_within_that_day():
    con = build(service_points=PLACES, installations=IN + "2020-05-01,P1,H,\n",
                replacements=OUT + "2020-05-01,P1,failed,H\n")
    assert lives(con) == [(0.0, 0.0, 1.0, "interval", True, None)]


@pytest.mark.parametrize(("installed", "removed", "exclusion_counts"), [
    pytest.param("2025-01-01,P1,H,", "", 1, id="went in on the data date"),
    pytest.param("2020-05-01,P1,H,", "2020-05-01,P1,planned,H", 1, id="out on the day it went in"),
    pytest.param("2019-05-01,P3,H,", "2019-12-01,P3,failed,H", 1, id="ended before the records"),
    pytest.param("2019-05-01,P3,H,", "2020-01-01,P3,planned,H", 1, id="ended as they began"),
])
def test_a_life_never_observed_is_counted_and_not_fitted(installed, removed, exclusion_counts):
    con = build(service_points=PLACES, installations=IN + installed, replacements=OUT + removed)
    [(entry, low, _, _, is_fitted, exclusion)] = lives(con)
    assert not is_fitted
    assert exclusion
    assert low <= max(entry, 0.0)
    assert rows(con, "select count(*) from lives.lives where exclusion is not null") == [
        (exclusion_counts,)]


def test_no_fitted_life_ends_before_it_enters_and_none_is_a_gap():
    con = build(service_points=PLACES, installations=IN
                + "2019-05-01,P3,A,100\n2020-05-01,P1,B,\n2020-05-01,P2,C,nan\n"
                  "2024-01-01,P2,D,-5\n",
                replacements=OUT + "2020-01-02,P3,failed,A\n2020-05-02,P1,found_failed,B\n")
    assert {(row[1], row[3]) for row in refused(con)} == {(4, "nan"), (5, "-5")}
    fitted = lives(con, "is_fitted")
    assert len(fitted) >= 2
    for entry, low, high, *_ in fitted:
        assert all(value is None or math.isfinite(value) for value in (entry, low, high))
        assert (math.inf if high is None else high) > entry >= 0.0
        assert low >= 0.0


def test_a_class_left_without_lives_stands_beside_the_others():
    con = build(service_points=PLACES, installations=IN
                + "2020-05-01,P1,A,\n2020-05-01,P2,C,many\nsoon,P2,D,\n",
                replacements=OUT + "2021-05-02,P1,failed,A\n")
    counts = ("select p.application_class, count(l.life_id) filter (where l.is_fitted) "
              "from clean.service_points as p left join lives.lives as l "
              "using (service_point) group by all order by all")
    assert rows(con, counts) == [("steam", 1), ("water", 0)]
    assert ("installations", 4, "installed_on", "soon", "is not a date") in refused(con)
