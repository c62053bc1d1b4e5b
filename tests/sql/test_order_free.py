"""The same recorded loads give the same tables, whatever the order of rows and the threads."""

from __future__ import annotations

import random

import duckdb
import pytest

from etl.load.mapping import TypingOptions
from etl.load.typing import build_clean, build_lives
from tests.sql.tiny import build, day, refused, rows

N_PLACES = 60
REASONS = ("failed", "found_failed", "planned", "unknown", "odd")
TABLES = {
    "lives.stays": "* exclude (installation_row, removal_row, installation_no, removal_no)",
    "lives.lives": "* exclude (installation_row, removal_row)",
    "lives.in_service": "*",
    "lives.orphans": "* exclude (removal_row, removal_no, installation_no)",
    "lives.findings": "* exclude (source_row, detail)",
    "clean.refused": "* exclude (source_row, value)",
    "clean.superseded": "* exclude (source_row)",
}


def messy_logs(shuffle_seed: int) -> dict[str, str | list[str]]:
    """Return logs full of gaps, ties and faults; their rows shuffled by the seed."""
    draw = random.Random(7)
    installed, removed, used = [], [], []
    for place in range(N_PLACES):
        for _ in range(draw.randint(1, 6)):
            name = f"P{place}"
            tag = draw.choice(["", f"H{place}", f"H{draw.randrange(9)}", f"X{draw.randrange(999)}"])
            start = draw.randrange(1, 28)
            installed.append(f"2020-{draw.randrange(1, 7):02d}-{start:02d},{name},{tag},"
                             f"{draw.choice(['', '', '50', '-1'])},W{draw.randrange(3)}")
            removed.append(f"2020-{draw.randrange(3, 13):02d}-{start:02d},{name},{tag},"
                           f"{draw.choice(REASONS)},"
                           f"{draw.choice(['', '2020-02-01'])},{draw.randrange(900)}.25")
        used.append(f"M{place % 7},2020-{1 + place % 12:02d}-01,run_hours,{draw.randrange(9999)}")
    order = random.Random(shuffle_seed)
    for listed in (installed, removed, used):
        order.shuffle(listed)
    places = [f"P{place},class {place % 3},M{place % 7},{'2020-03-01' if place % 4 == 0 else ''}"
              for place in range(N_PLACES)]
    order.shuffle(places)
    head_in = "installed_on,service_point,hose_id,age_at_installation,work_order"
    head_out = "removed_on,service_point,hose_id,reason,last_seen_good_on,part_cost"
    again = sorted(installed)[:20]
    order.shuffle(again)
    return {
        "service_points": "\n".join(
            ["service_point,application_class,equipment,records_from", *places]),
        "installations": ["\n".join([head_in, *installed]),
                          "\n".join([head_in, *[row[:-1] + "9" for row in again]])],
        "replacements": "\n".join([head_out, *removed]),
        "usage": "\n".join(["equipment,read_on,clock,reading", *used]),
    }


def contents(con: duckdb.DuckDBPyConnection) -> dict[str, list[tuple[object, ...]]]:
    return {table: rows(con, f"select {columns} from {table} order by all")
            for table, columns in TABLES.items()}


def tables(shuffle_seed: int, threads: int) -> dict[str, list[tuple[object, ...]]]:
    con = build(day("2020-12-31"), threads=threads, **messy_logs(shuffle_seed))
    assert refused(con)
    return contents(con)


@pytest.fixture(scope="module")
def expected():
    return tables(0, 1)


def test_the_messy_logs_hold_every_kind_of_life(expected):
    kinds = {life[7] for life in expected["lives.lives"]}
    assert kinds == {"failed", "interval", "suspended"}
    assert all(expected[table] for table in TABLES)


@pytest.mark.parametrize(("shuffle_seed", "threads"), [(0, 2), (0, 4), (1, 1), (2, 4), (3, 2)])
def test_tables_do_not_depend_on_row_order_or_threads(expected, shuffle_seed, threads):
    found = tables(shuffle_seed, threads)
    for table in TABLES:
        assert found[table] == expected[table], table


def test_building_again_in_the_same_database_changes_nothing(expected):
    con = build(day("2020-10-01"), **messy_logs(0))
    assert contents(con) != expected
    build_lives(con, build_clean(con, {1: TypingOptions()}, day("2020-12-31")))
    assert contents(con) == expected


def test_two_short_stays_of_one_hose_on_one_day_are_numbered_by_what_their_rows_say():
    put_in = ["2020-05-01,P1,A,C1,r1", "2020-05-01,P1,A,C2,r2"]
    found = [rows(build(
        service_points="service_point,application_class\nP1,steam",
        installations="\n".join(
            ["installed_on,service_point,hose_id,construction,row_id", *listed]),
        replacements="removed_on,service_point,hose_id,reason,row_id\n"
                     "2020-05-01,P1,A,failed,q1\n2020-05-01,P1,A,planned,q2"),
        "select construction, removal_reason from lives.stays order by stay_id")
        for listed in (put_in, put_in[::-1])]
    assert len(found[0]) == 2
    assert found[0] == found[1]
