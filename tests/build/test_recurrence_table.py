"""Places watched, their failures, and the curves and trends published of them."""

import numpy as np

from etl.build.recurrence_table import LEAST_AT_RISK, MOST_AGES, add_recurrence
from etl.load import warehouse
from tests.sql.tiny import build

LOGS = {
    "service_points": "service_point,application_class,site,line,records_from\n"
                      "P1,steam,S,1,\nP2,steam,S,1,2020-03-01\nP3,steam,S,,\nP4,brine,S,,",
    "installations": "installed_on,service_point,hose_id\n2020-01-01,P1,A\n2020-06-01,P1,B\n"
                     "2020-01-01,P2,C\n2020-07-01,P3,D\n2020-01-01,P4,E",
    "replacements": "removed_on,service_point,hose_id,reason\n2020-05-01,P1,A,failed\n"
                    "2020-09-01,P1,B,found_failed\n2020-02-01,P2,C,failed\n"
                    "2020-07-01,P3,Z,failed\n2020-10-01,P3,D,planned",
}


def watched():
    con = build(**LOGS)
    warehouse.run_sql(con, "fit/63_place_watch", as_of=con.execute(
        "select date '2020-12-31'").fetchall()[0][0])
    return con


def test_age_counts_from_the_first_hose_and_watch_from_the_records():
    rows = watched().execute(
        "select service_point, start_days, end_days, failed_after_days "
        "from fit.place_watch order by service_point").fetchall()
    assert rows == [
        ("P1", 0.0, 245.0, [121.0, 244.0]),
        # P2 has no hose after 1 February, before its records begin: it was never watched.
        ("P3", 0.0, 93.0, []),
        ("P4", 0.0, 366.0, []),
    ]


def test_an_empty_fleet_publishes_empty_tables():
    con = watched()
    con.execute("delete from fit.place_watch")
    add_recurrence(con, 0.90)
    warehouse.run_sql(con, "results/36_mean_cumulative_failures")
    warehouse.run_sql(con, "results/37_recurrence_trends")
    for table in ("mean_cumulative_failures", "recurrence_trends"):
        assert con.execute(f"select count(*) from results.{table}").fetchall() == [(0,)]


def test_too_few_failures_have_counts_and_no_shape():
    con = watched()
    add_recurrence(con, 0.90)
    warehouse.run_sql(con, "results/37_recurrence_trends")
    rows = con.execute("select application_class, n_places, n_failures, "
                       "round(place_years, 3), shape from results.recurrence_trends "
                       "order by application_class").fetchall()
    assert rows == [("brine", 1, 0, 1.002, None), ("steam", 2, 2, 0.925, None)]


def test_lines_and_machines_of_three_places_or_more_have_their_own(edition):
    """A line is that of its site; a class's places on several lines are several lines' places."""
    con = watched()
    con.execute("update fit.place_watch set line = 'L', equipment = 'M'")
    con.execute("update fit.place_watch set equipment = null where service_point = 'P4'")
    con.execute("insert into fit.place_watch by name (select * replace "
                "('P9' as service_point, 'other' as site) from fit.place_watch limit 1)")
    add_recurrence(con, 0.90)
    warehouse.run_sql(con, "results/36_group_mean_failures")
    warehouse.run_sql(con, "results/37_group_trends")
    rows = con.execute("select scope, site, scope_name, n_places, n_failures from "
                       "results.group_trends").fetchall()
    assert rows == [("line", "S", "L", 3, 2)]  # two at its machine, and one at the other site
    con.execute("update fit.place_watch set site = 'S'")
    add_recurrence(con, 0.90)
    warehouse.run_sql(con, "results/37_group_trends")
    rows = con.execute("select scope, site, scope_name, n_places, n_failures from "
                       "results.group_trends").fetchall()
    assert rows == [("equipment", "S", "M", 3, 4), ("line", "S", "L", 4, 4)]
    known = edition.execute("""
        select g.scope, count(*) = 1 as is_one, any_value(g.n_failures) as told, sum(p.n_failures)
        from group_trends as g join service_points as p on p.site is not distinct from g.site
            and g.scope_name = case g.scope when 'line' then p.line else p.equipment end
        group by g.scope, g.site, g.scope_name
    """).fetchall()
    assert {scope for scope, *_ in known} == {"line", "equipment"}
    # Not every failure lies within a watch, and hoses that made room are failures here.
    assert sum(abs(told - counted) <= 2 for *_, told, counted in known) > 0.8 * len(known)


def test_curves_of_the_demo_are_small_and_agree_with_their_counts(edition):
    rows = edition.execute("""
        select count(*), arg_max(n_places, age_days), max(mean) from mean_cumulative_failures
        group by application_class
    """).fetchnumpy()
    n, least, _ = (np.asarray(column) for column in rows.values())
    assert n.max() <= MOST_AGES
    assert least.min() >= LEAST_AT_RISK
    n_failures = edition.execute("select sum(n_failures) from recurrence_trends").fetchall()[0][0]
    assert n_failures > 0.9 * edition.execute("select n_failures from edition").fetchall()[0][0]


def test_mean_failures_of_a_class_are_about_its_rate_times_its_age(edition):
    for name, age, mean, rate in edition.execute("""
        select application_class, max(age_days) / 365.25, max(mean), max(n_failures / place_years)
        from mean_cumulative_failures join recurrence_trends using (application_class)
        group by application_class order by application_class
    """).fetchall():
        assert 0.6 < mean / (rate * age) < 1.6, name
