"""Of which days costs and prices are: the removals behind them, the file of a price."""

from datetime import date

import duckdb
import pandas as pd
import pytest

from etl.build.cost_days import cost_days
from etl.load.warehouse import run_sql


@pytest.fixture
def con():
    with duckdb.connect() as con:
        con.execute("create schema fit; create schema clean; create schema raw")
        con.execute("""
            create table fit.costs as select * from (values
                (0, 10.0, false, date '2019-05-01'), (0, 12.0, false, date '2024-02-01'),
                (1, 11.0, false, date '2017-01-09'), (1, 99.0, true, date '2010-01-01'))
                as t(place, cost, is_planned, removed_on);
            create table clean.parts as select * from (values
                ('A', 5.0, 1), ('B', null, 1), ('C', 7.0, 2))
                as t(part_number, unit_price, load_id);
            create table raw.loads as select * from (values
                (1, date '2026-03-31', date '2026-04-02'), (2, null, date '2026-05-06'))
                as t(load_id, exported_on, loaded_on)""")
        run_sql(con, "fit/69_price_days")
        yield con


def test_a_price_is_of_the_day_of_its_file(con):
    found = con.execute("from fit.price_days order by part_number").fetchall()
    assert found == [("A", date(2026, 3, 31)), ("C", date(2026, 5, 6))]


def test_costs_are_of_the_days_of_the_failures_behind_them(con):
    places = pd.DataFrame({"application_class": ["loop"] * 3 + ["drum"] * 2,
                           "part_number": ["C", None, "A", "A", None]})
    found = cost_days(con, places, ("recorded here", "recorded in class", "recorded in class",
                                    "register", "unknown"))
    days = [[None if pd.isna(day) else day.date() for day in row]
            for row in found.itertuples(index=False)]
    assert days == [
        [date(2019, 5, 1), date(2024, 2, 1)], [date(2017, 1, 9), date(2024, 2, 1)],
        [date(2017, 1, 9), date(2024, 2, 1)], [date(2026, 3, 31), date(2026, 3, 31)], [None, None]]


def test_every_known_cost_and_price_of_the_demo_fleet_has_its_days(edition):
    (known, dated, wrong), = edition.execute("""
        select count(cost_per_failure), count(cost_first_on),
            count(*) filter (where cost_first_on > cost_last_on or cost_last_on > e.as_of)
        from ranking cross join edition as e""").fetchall()
    assert known == dated > 1000
    assert wrong == 0
    (gap,), = edition.execute("select count(*) from spares "
                              "where (unit_price is null) <> (price_on is null)").fetchall()
    assert gap == 0


def test_costs_of_hoses_as_shown_are_those_that_the_cost_of_a_failure_rests_on(edition):
    (shown, told), = edition.execute("""
        select avg(l.cost), any_value(r.cost_per_failure)
        from lives as l join ranking as r using (service_point)
        where l.kind <> 'suspended' and l.cost is not null and service_point = (
            select service_point from ranking where cost_origin = 'recorded here'
            order by observed_failures desc, rank limit 1)""").fetchall()
    assert told == pytest.approx(shown, rel=0.2)  # drawn towards its class
    (lost,), = edition.execute("""
        select count(*) from lives where downtime_h > 0 and cost <= coalesce(part_cost, 0)
            + coalesce(labour_cost, 0) + coalesce(other_cost, 0)""").fetchall()
    assert lost == 0  # every place of this fleet says what an hour costs
