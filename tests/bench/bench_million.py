"""How tables, search and files to take away do at a million rows.

Run: ``python -m tests.bench.bench_million STORE WORK [--rows 1000000] [--files]``. Takes the
edition of STORE, repeats its places, ranks, lives and rows as loaded under other names until each
table has so many rows, and writes that as the edition of a store in WORK; nothing in STORE is
changed. Prints each question's milliseconds, asked of an edition that was never asked before and
of one that remembers its totals but not this question, and beside them the processor's, all
threads together, which other work on the machine moves little; for files the seconds to the first
bytes and to the last, the size, and the memory that the process grew by.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb

from dashboard.queries import edition, search
from tests.bench.bench_pages import forgetting
from tests.dashboard.edition_maker import MADE_BY_SQL, statement
from tests.dashboard.page_reader import Reader

TABLES = {
    "service_points": ("service_point",), "ranking": ("service_point",),
    "lives": ("service_point", "hose_id"), "log_rows": ("service_point",),
}
"""Tables that are repeated, and their columns that get another name each time."""
NUMBERED = {"ranking": "rank", "lives": "life_id", "log_rows": "source_row"}
"""Whole numbers that stay different from copy to copy."""
GRID = "..places-grid.getRowsResponse"


def make_store(store: Path, work: Path, n_rows: int) -> None:
    """Write a store whose edition has so many rows in each of the large tables."""
    name = (store / "current").read_text(encoding="ascii").strip()
    (work / "editions").mkdir(parents=True, exist_ok=True)
    target = work / "editions" / name
    shutil.copyfile(store / "editions" / name, target)
    with duckdb.connect(str(target)) as con:
        for table, names in TABLES.items():
            n = con.execute(f"select count(*) from {table}").fetchone()[0]
            copies = max(0, -(-n_rows // n) - 1)
            other = ", ".join(f"{column} || ' #' || k as {column}" for column in names)
            number = NUMBERED.get(table)
            apart = f", {number} + k * {n} as {number}" if number else ""
            con.execute(
                f"insert into {table} select t.* replace ({other}{apart}) from {table} as t, "
                f"range(1, {copies + 1}) as c(k) limit {max(0, n_rows - n)}")
        con.execute("update edition set n_service_points = (select count(*) from service_points)")
        for table in MADE_BY_SQL:
            con.execute(statement(table))
        con.execute("checkpoint")
    (work / "current").write_text(name, encoding="ascii")


def ask_grid(reader: Reader, start: int = 0, sort: str = "", **filters: str) -> Any:
    """Ask the table of places for 25 rows."""
    request = {"startRow": start, "endRow": start + 25,
               "sortModel": [{"colId": sort, "sort": "desc"}] if sort else [],
               "filterModel": {f"filter_{name}": {"filter": text}
                               for name, text in filters.items()}}
    return reader.call(GRID, {"places-grid.getRowsRequest": request})


def questions(reader: Reader, n_rows: int) -> dict[str, Callable[[], Any]]:
    """Return what a person asks of tables and search."""
    def find(text: str) -> Any:
        with reader.app.server.app_context():
            return search.found(text)

    return {
        "table, first page": lambda: ask_grid(reader),
        "sorted by cost": lambda: ask_grid(reader, sort="expected_cost"),
        "sorted by rate": lambda: ask_grid(reader, sort="relative_rate"),
        "filter faster than peers": lambda: ask_grid(reader, flag="faster"),
        "filter text": lambda: ask_grid(reader, text="discharge A"),
        "filter text, none fits": lambda: ask_grid(reader, text="no such place"),
        "page in the middle": lambda: ask_grid(reader, start=n_rows // 2),
        "last page": lambda: ask_grid(reader, start=n_rows - 25),
        "search, tag": lambda: find("HD-2"), "search, one letter": lambda: find("a"),
        "search, none": lambda: find("zzzz"),
        "page Places": lambda: reader.layout("/places"),
        "page This month": lambda: reader.layout("/"),
        "page Lives": lambda: reader.layout("/lives"),
        "one place": lambda: reader.layout("/places/" + first_place(reader)),
    }


def first_place(reader: Reader) -> str:
    """Return the name of a place."""
    with reader.app.server.app_context():
        return str(edition.ask("select service_point from ranking order by rank limit 1")[0][
            "service_point"])


def timed(question: Callable[[], Any]) -> tuple[float, float]:
    """Return the milliseconds of one answer, and the processor's."""
    start, busy = time.perf_counter(), time.process_time()
    question()
    return 1000 * (time.perf_counter() - start), 1000 * (time.process_time() - busy)


def words(times: list[tuple[float, float]]) -> str:
    """Return the medians of some answers."""
    wall, busy = (statistics.median(column) for column in zip(*times, strict=True))
    return f"{wall:6.0f} ms ({busy:5.0f} of the processor)"


def take_away(reader: Reader, address: str) -> tuple[float, float, int]:
    """Return seconds to the first bytes and to the last, and the bytes of a file."""
    start = time.perf_counter()
    answer = reader.client.get(address, buffered=False)
    first, size = 0.0, 0
    for piece in answer.response:
        first = first or time.perf_counter() - start
        size += len(piece)
    answer.close()
    if answer.status_code != 200:
        raise SystemExit(f"{address}: {answer.status_code} {piece!r}")
    return first, time.perf_counter() - start, size


def main() -> None:
    """Make the store, ask, print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("store", type=Path)
    parser.add_argument("work", type=Path)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--files", action="store_true", help="also take whole tables away")
    given = parser.parse_args()
    if not (given.work / "current").exists():
        make_store(given.store, given.work, given.rows)
    reader = Reader(given.work)
    forget = forgetting(reader)
    for name, question in questions(reader, given.rows).items():
        cold, warm = [], []
        for _ in range(3):
            forget()
            cold.append(timed(question))
            forget()
            ask_grid(reader, start=50)
            warm.append(timed(question))
        print(f"{name:28} never asked {words(cold)}, totals remembered {words(warm)}",
              flush=True)
    if given.files:
        for address in ("/download/places.csv", "/download/places.csv?text=discharge+A",
                        "/download/lives.csv", "/download/lives.csv?units=us",
                        "/download/places.xlsx"):
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            first, whole, size = take_away(reader, address)
            grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
            print(f"{address:40} first bytes {first:5.1f} s, all {whole:6.1f} s, "
                  f"{size / 1e6:6.1f} MB, memory +{grown:5.0f} MB", flush=True)


if __name__ == "__main__":
    main()
