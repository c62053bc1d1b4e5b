"""What is published on spares hangs together, on the demo fleet and on parts made to bind."""

import dataclasses
import datetime as dt

import duckdb
import numpy as np
import pandas as pd
import pytest

from etl.build.spares.budget import budget_table
from etl.build.spares.demand import PartDemand
from etl.build.spares.stand_ins import stand_in_table
from etl.build.spares.table import COLUMNS, spares_table
from etl.build.spares.what_if import FACTORS, LEVELS, POLICIES, what_if_table
from etl.decide.spares.need import ServiceLevel
from etl.life.renewal import DAYS_A_MONTH
from tests.build.spoiled import copies, faulty

MONTHS = np.arange(1.0, 13.0)
TABLES = ("spares", "order_list", "spares_what_if", "spares_budget", "spares_stand_ins")
ENTRY = {
    "part_number": "P-1", "construction": "C-1", "dn": 40, "n_places": 6, "live_length_mm": 600.0,
    "end_a": "union", "end_b": "flange", "unit_price": 100.0, "minimum_order": 1,
    "shelf_life_days": None, "stock_counted_on": None, "next_due_on": None, "n_failures": 7,
    "n_suspensions": 9, "on_hand": 1, "on_order": 0, "receipts": None,
}


def a_part(a_month=1.0, *, service=None, planned=0.0, certain=(), unplanned=None, **entry):
    table = a_month * MONTHS[None, :].repeat(20, axis=0)
    other = table if unplanned is None else unplanned * MONTHS[None, :].repeat(20, axis=0)
    days = np.array(certain, float)
    both = table + np.searchsorted(days, DAYS_A_MONTH * MONTHS, side="right")
    return PartDemand(
        ENTRY | entry, both, table, (other, other), planned, days,
        service or ServiceLevel(0.95, "an hour of downtime is costly"), 60.0, 20.0, True, 30.0)


def the_row(part):
    return spares_table([part], 0.90).iloc[0]


def test_every_column_is_filled_or_said_to_be_missing():
    frame = spares_table([a_part()], 0.90)
    assert list(frame.columns) == COLUMNS
    assert frame.iloc[0]["order_now"] == frame.iloc[0]["stock_level"] - 1


def test_without_stock_log_or_price_nothing_is_guessed():
    row = the_row(a_part(on_hand=None, unit_price=None))
    for name in ("order_now", "overstock", "shortage_probability", "budget_12_months_p90"):
        assert pd.isna(row[name]), name


def test_a_short_shelf_life_caps_the_stock_and_says_what_it_costs():
    free, capped = the_row(a_part(0.2)), the_row(a_part(0.2, shelf_life_days=120.0))
    assert capped["stock_level"] < free["stock_level"]
    assert capped["level_met"] < 0.95
    assert "outlive their shelf life" in capped["reason"]


def test_planned_days_count_whole_in_every_figure_of_a_part():
    plain, dated = the_row(a_part(1.0)), the_row(a_part(1.0, certain=[5.0, 5.0, 20.0, 300.0]))
    # The same scatter beside a whole number: every quantile moves by that number.
    for months, more in ((3, 3), (6, 3), (12, 4)):
        for name in ("mean", "lower", "upper", "stock"):
            column = f"{name}_{months}_months"
            assert dated[column] == pytest.approx(plain[column] + more), column
    assert dated["stock_level"] == plain["stock_level"] + 3
    assert dated["level_met"] == pytest.approx(plain["level_met"])


def test_hazardous_service_keeps_one_and_says_so():
    toxic = ServiceLevel(0.99, "toxic service", least=1)
    row = the_row(a_part(0.0005, service=toxic))
    assert row["stock_level"] == 1
    assert "kept whatever the demand" in row["reason"]


def test_an_order_that_comes_too_late_is_said():
    assert "before a new order arrives" in the_row(a_part(3.0, on_hand=0))["reason"]
    assert "before a new order" not in the_row(a_part(0.1, on_hand=9))["reason"]


def test_a_least_order_is_said_where_it_raises_the_order():
    row = the_row(a_part(minimum_order=20))
    assert row["order_now"] == 20
    assert "the least order is 20" in row["reason"]


def test_what_is_coming_counts_and_its_day_is_said():
    row = the_row(a_part(on_order=3, next_due_on=dt.date(2026, 11, 20),
                         receipts=[{"days": 20, "number": 3}]))
    assert row["order_now"] == max(0, row["stock_level"] - 4)
    assert "3 on order, the first due 20 Nov 2026" in row["reason"]


def test_surplus_is_what_a_year_does_not_need():
    row = the_row(a_part(0.5, on_hand=40))
    assert row["overstock"] == 40 - max(row["stock_12_months"], row["stock_level"])
    assert row["order_now"] == 0


def test_the_case_as_things_are_is_the_table_of_stock():
    part = a_part(0.7, planned=2.0, unplanned=0.4)
    cases = what_if_table([part])
    assert len(cases) == len(FACTORS) * len(POLICIES) * (len(LEVELS) + 1)
    case = cases[(cases.policy == "as planned") & (cases.lead_time_factor == 1.0)
                 & cases.is_stated_level].iloc[0]
    row = the_row(part)
    assert (case.stock_level, case.order_now) == (row.stock_level, row.order_now)
    without = cases[(cases.policy == "without the plan") & (cases.lead_time_factor == 1.0)
                    & cases.is_stated_level].iloc[0]
    assert without["mean"] == pytest.approx(0.4 / 0.7 * case["mean"])


def test_the_budget_of_the_fleet_is_less_than_the_sum_of_its_parts():
    parts = [a_part(0.5), a_part(1.5), dataclasses.replace(a_part(), entry=ENTRY | {
        "unit_price": None})]
    frame = budget_table(parts, pd.date_range("2026-11-01", periods=12, freq="MS"))
    assert frame["n_without_price"].tolist() == [1] * 12
    assert frame["mean"].tolist() == pytest.approx((200.0 * MONTHS).tolist())
    single = spares_table(parts[:2], 0.90)["budget_12_months_p90"].sum()
    assert frame["p50"].iloc[-1] < frame["p90"].iloc[-1] < single


def test_no_price_at_all_gives_an_empty_budget():
    part = a_part(unit_price=None)
    assert budget_table([part], pd.date_range("2026-11-01", periods=12, freq="MS")).empty


def test_a_plan_moves_the_demand_of_the_demo_fleet(edition):
    lower, same = edition.execute(
        """select count(*) filter (where n.mean < p.mean), count(*) filter (where n.mean = p.mean)
        from spares_what_if as n join spares_what_if as p using (
            part_number, lead_time_factor, is_stated_level, service_level)
        join spares as s using (part_number)
        where n.policy = 'without the plan' and p.policy = 'as planned'
            and lead_time_factor = 3 and is_stated_level and s.planned_12_months > 0.5"""
    ).fetchone()
    assert lower > same


def test_stand_ins_agree_in_size_length_and_ends_or_are_named_by_the_register(edition):
    (n,) = edition.execute("select count(*) from spares_stand_ins").fetchone()
    assert n > 0
    odd = edition.execute(
        """select a.* from spares_stand_ins as a
        join spares as s using (part_number) join spares as o on o.part_number = a.stand_in
        where not is_approved and (s.dn <> o.dn or s.live_length_mm <> o.live_length_mm
            or list_sort([s.end_a, s.end_b]) <> list_sort([o.end_a, o.end_b]))"""
    ).fetchall()
    assert odd == []


def test_a_part_that_the_register_names_lowers_the_stock():
    """The demo register names none: two parts of one build, one replacing the other."""
    with duckdb.connect() as con:
        con.execute("create schema fit; create schema clean; create schema seeds")
        con.execute(
            """create table fit.part_details as select * from (values
                ('P-1', 'C-1', 40, 600.0, 'union', 'union', null, 1, true),
                ('P-2', 'C-1', 40, 900.0, 'union', 'union', 'P-1', 9, true),
                ('P-3', 'C-1', 40, 600.0, 'flange', 'union', null, 9, true)) as t(part_number,
                construction, dn, live_length_mm, end_a, end_b, replaces, on_hand, is_in_service);
            create table fit.places as select 0 as place, 'P-1' as part_number, 40 as dn,
                5e0 as pressure_bar, 2e1 as temperature_c, null::double as bend_radius_mm;
            create table clean.constructions as select 'C-1' as construction, 40 as dn,
                '1.4404' as core_alloy, 25e0 as rated_pressure_bar,
                null::double as min_bend_radius_dynamic_mm, null::double as bending_stiffness_n_m2,
                null::double as mass_kg_per_m;
            create table seeds.derating as select '1.4404' as core_alloy, 2e1 as temperature_c,
                1e0 as share;"""
        )
        parts = [a_part(), a_part(0.3, part_number="P-2", on_hand=9)]
        advice = spares_table(parts, 0.90)
        frame = stand_in_table(con, parts, advice)
    assert frame[["part_number", "stand_in"]].to_numpy().tolist() == [["P-1", "P-2"]]
    row = frame.iloc[0]
    assert row["is_approved"]
    assert (row["n_places"], row["n_places_met"]) == (1, 1)
    assert row["stock_level_with_stand_in"] < advice["stock_level"].iloc[0]
    assert row["spare"] == 9 - advice["stock_level"].iloc[1]



@pytest.fixture
def con(edition_file):
    with copies(edition_file, TABLES) as con:
        yield con


@pytest.mark.parametrize(("check", "statement"), [
    ("spares_numbers", "update results.spares set level_met = 0.5 where rowid = 0"),
    ("spares_numbers", "update results.spares set order_now = 0 where order_now > 0"),
    ("spares_numbers", "update results.spares set reorder_point = stock_level where rowid = 0"),
    ("spares_numbers", "update results.spares set budget_12_months_p50 = 1e9 where rowid = 0"),
    ("spares_what_if", "update results.spares set stock_level = stock_level + 1 where rowid = 0"),
    ("spares_what_if", "update results.spares_what_if set stock_level = 0 "
     "where lead_time_factor = 3"),
    ("spares_what_if", "update results.spares_what_if set stock_level = 0 "
     "where service_level = 0.99 and not is_stated_level"),
    ("spares_lists", "delete from results.order_list where rowid = 0"),
    ("spares_lists", "update results.order_list set why = null where rowid = 0"),
    ("spares_lists", "update results.spares_budget set p90 = 0 where n_months = 3"),
    ("spares_lists", "update results.spares_stand_ins set stand_in = part_number where rowid = 0"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, statement):
    assert faulty(con, check) == []
    con.execute(statement)
    assert len(faulty(con, check)) >= 1
