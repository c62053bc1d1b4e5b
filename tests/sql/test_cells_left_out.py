"""A bad optional cell is left out of its row and said so; one that tells something keeps it out."""

from __future__ import annotations

import pytest

from etl.load.columns import LOGS
from tests.sql.tiny import ONE_PLACE, build, left_out, refused, rows

PLACE = "service_point,application_class,"
IN = "installed_on,service_point,"
OUT = "removed_on,service_point,reason,"


@pytest.mark.parametrize(("column", "cell", "reason"), [
    ("pressure_bar", "abt 12", "is not a number"), ("dn", "1 1/2", "is not a whole number"),
    ("live_length_mm", "-400", "is negative"), ("temperature_c", "inf", "is not a number"),
    ("plane", "sideways", "is not one of the known words"),
    ("downtime_cost_per_hour", "n/a", "is not an amount"),
])
def test_a_place_stays_without_the_cell(column, cell, reason):
    con = build(service_points=f"{PLACE}{column},site\nP1,steam,{cell},north",
                installations=IN + "hose_id\n2020-01-01,P1,H")
    assert left_out(con) == [("service_points", 2, column, cell, reason)]
    assert refused(con) == []
    assert rows(con, f"select service_point, {column}, site from clean.service_points") == [
        ("P1", None, "north")]
    assert rows(con, "select count(*) from lives.lives") == [(1,)]


@pytest.mark.parametrize(("log", "text", "column", "reason"), [
    pytest.param("service_points", PLACE + "hazards\nP1,steam,hot;wet", "hazards",
                 "is not one of the known words", id="hazards: none would be less than unknown"),
    pytest.param("service_points", PLACE + "records_from\nP1,steam,long ago", "records_from",
                 "is not a date", id="start of records: old survivors would bias every life"),
    pytest.param("service_points", PLACE + "retired_on\nP1,steam,1905-03-09", "retired_on",
                 "lies before 1950", id="retired: the hose would go on living"),
    pytest.param("installations", IN + "age_at_installation\n2020-01-01,P1,old",
                 "age_at_installation", "is not a number", id="age: the hose would be new"),
    pytest.param("replacements", OUT + "last_seen_good_on\n2020-01-01,P1,failed,soon",
                 "last_seen_good_on", "is not a date", id="last seen good"),
    pytest.param("replacements", OUT + "part_cost\n2020-01-01,P1,failed,-5", "part_cost",
                 "is negative", id="a credit"),
    pytest.param("replacements", OUT + "deleted\n2020-01-01,P1,failed,perhaps", "deleted",
                 "is not yes or no", id="taken back or not"),
    pytest.param("constructions", "construction,dn\nC,wide", "dn", "is not a whole number",
                 id="part of the key"),
    pytest.param("stock", "part_number,as_of,on_hand,on_order\nN,2020-01-01,3,few", "on_order",
                 "is not a number", id="on order: too many would be ordered"),
])
def test_a_cell_that_tells_by_being_empty_keeps_its_row_out(log, text, column, reason):
    con = build(**{"service_points": ONE_PLACE, log: text})
    assert [(row[0], row[2], row[4]) for row in refused(con)] == [(log, column, reason)]
    assert left_out(con) == []
    assert rows(con, f"select count(*) from clean.{log}") == [(0,)]


def test_required_and_key_columns_are_never_spared():
    for log in LOGS.values():
        for column in log.columns:
            if column.is_required or column.name in log.key:
                assert not log.spares(column), (log.name, column.name)


def test_a_row_kept_out_lists_the_optional_cells_too():
    con = build(service_points=ONE_PLACE, replacements=OUT + "part_cost,downtime_h\n"
                "soon,P1,failed,much,long")
    assert {(row[2], row[4]) for row in refused(con)} == {
        ("removed_on", "is not a date"), ("part_cost", "is not an amount"),
        ("downtime_h", "is not a number")}
    assert left_out(con) == []


def test_cells_left_out_stand_among_the_corrections_with_row_and_remedy():
    con = build(service_points=ONE_PLACE, replacements=OUT + "part_cost\n"
                "2020-01-01,P1,failed,12.5\n2020-02-01,P1,failed,much\n2020-03-01,P1,failed,5%")
    assert rows(con, "select column_name, what, n_cells, example from raw.corrections") == [
        ("part_cost", "cells left out, their rows kept: is not an amount", 2,
         "row 3: much. Write digits only, or declare decimal and thousands in columns.toml.")]


def test_a_cell_corrected_by_a_later_file_is_no_fault_any_more():
    con = build(service_points=[PLACE + "dn\nP1,steam,wide", PLACE + "dn\nP1,steam,25"])
    assert left_out(con) == []
    assert rows(con, "select dn from clean.service_points") == [(25,)]
    assert rows(con, "select cause from clean.superseded") == [("corrected",)]


def test_a_removal_without_its_cost_still_ends_the_life():
    con = build(service_points=ONE_PLACE, installations=IN + "hose_id\n2020-01-01,P1,H",
                replacements=OUT + "labour_cost,part_cost\n2021-01-01,P1,failed,2 h,7")
    assert rows(con, "select kind, age_low_days from lives.lives") == [("failed", 366.0)]
    assert rows(con, "select labour_cost, part_cost::varchar from lives.stays") == [(None, "7.00")]
