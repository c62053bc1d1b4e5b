"""Rows that come later: what is built of kept rows and new ones is what a whole build gives."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import duckdb
import pytest

from etl.load import archive, typing
from etl.load.append import build_appended
from etl.load.base import is_worth_keeping, sign_of, write_base
from etl.load.columns import LOGS
from etl.load.raw import load_raw
from etl.load.warehouse import connect
from tests.load.growing_logs import Fleet, write

SIZES = {"installations": 260, "replacements": 220, "inspections": 60, "teardowns": 40,
         "stock": 6, "trials": 4}
TABLES = (
    *(f"raw.{name}" for name in (*LOGS, "unreadable", "corrections", "loads")),
    *(f"clean.{name}" for name in (*LOGS, "fates", "returned", "impossible", "refused",
                                   "refused_cells", "superseded", "data_date",
                                   "installations_cells", "replacements_cells")),
    *(f"lives.{name}" for name in ("stays", "lives", "orphans", "in_service", "findings",
                                   "examined_stays", "concluded", "ran")),
)
"""All that later steps read."""
SEEDS = (1, 2, 3, 4, 5, 6, 11)
INNER = ("typing_group", "point_no")
"""Columns that no later step reads."""


def contents(con: duckdb.DuckDBPyConnection) -> dict[str, list[tuple[object, ...]]]:
    """Return every table with its rows in an order of their own."""
    found = {}
    for table in TABLES:
        names = [item[0] for item in con.execute(f"from {table} limit 0").description or ()]
        listed = ", ".join(f"{name}::varchar" for name in sorted(set(names) - set(INNER)))
        found[table] = con.execute(f"select {listed} from {table} order by all").fetchall()
    return found


def whole(store: Path, day: dt.date | None) -> tuple[duckdb.DuckDBPyConnection, dt.date]:
    """Build everything from the archive."""
    con = connect()
    as_of = typing.build_clean(con, load_raw(con, store), day)
    typing.build_lives(con, as_of, ("loader",))
    return con, as_of


def keep(store: Path, day: dt.date | None) -> None:
    """Build everything and keep it."""
    con, _ = whole(store, day)
    assert is_worth_keeping(con, store, [item.load_id for item in archive.registered(store)])
    write_base(con, store, sign_of(("loader",)))
    con.close()


def same(store: Path, day: dt.date | None) -> bool:
    """Compare both ways to the lives; False where rows could not be put beside what is kept."""
    appended = connect()
    as_of = build_appended(appended, store, day, ("loader",))
    if as_of is None:
        return False
    con, wanted_as_of = whole(store, day)
    assert as_of == wanted_as_of
    found, wanted = contents(appended), contents(con)
    for table in TABLES:
        assert found[table] == wanted[table], table
    return True


@pytest.mark.parametrize("seed", SEEDS)
def test_what_comes_later_makes_the_tables_of_a_whole_build(tmp_path: Path, seed: int) -> None:
    """Seeds of which the later rows touch less than a third of the places."""
    assert grown(tmp_path, seed)


def grown(tmp_path: Path, seed: int) -> bool:
    """Load logs, keep their rows, load more, and compare; False where all was built again."""
    fleet, store = Fleet(seed), tmp_path / "store"
    archive.add(store, write(tmp_path / "first", {
        **fleet.register(), **fleet.period(SIZES, 0, 300)}, "first"), dt.date(2021, 1, 1))
    day = None if seed % 2 else dt.date(2020, 10, 27)
    keep(store, day)
    later = None if seed % 2 else dt.date(2020, 11, 30)
    logs = ("installations", "replacements", "inspections", "teardowns", "stock", "trials")
    few = {log: 3 for n, log in enumerate(logs) if seed % 3 != n % 3 or n < 2}
    archive.add(store, write(tmp_path / "second", fleet.period(few, 300, 330, 12), "second"),
                dt.date(2021, 2, 1))
    if seed % 2 == 0:
        archive.add(store, write(tmp_path / "third", {
            "parts": [{"part_number": "PN1", "construction": "C1", "unit_price": 7},
                      {"part_number": "PN5", "construction": "C2"}],
            **fleet.period({"replacements": 3}, 200, 330, 12)}, "third"), dt.date(2021, 3, 1))
    return same(store, later)


@pytest.mark.parametrize("rows", [
    {"stock": [{"part_number": "PN1", "as_of": "2020-06-01", "on_hand": 3}]},
    {"parts": [{"part_number": "PN9", "construction": "C2", "unit_price": 5}]},
    {}], ids=["stock", "parts", "nothing"])
def test_where_no_place_is_touched_findings_of_the_logs_stand_once(
        tmp_path: Path, rows: dict[str, list[dict[str, object]]]) -> None:
    fleet, store = Fleet(3), tmp_path / "store"
    archive.add(store, write(tmp_path / "first", {
        **fleet.register(), **fleet.period(SIZES, 0, 300)}, "first"), dt.date(2021, 1, 1))
    keep(store, None)
    if rows:
        archive.add(store, write(tmp_path / "second", rows, "second"), dt.date(2021, 2, 1))
    assert same(store, None)
